"""What the program found in an image, beside it: where, how sure, what it would take away, and the decision."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.core.exposures import ShortfallCode
from app.core.reading import Reading
from app.core.targets import Target
from app.exchange.shared_data import technique_errors
from app.storage.findings import FindingRow
from app.storage.series import ExposureRow
from app.web.dependencies import CurrentActor, Posted, ShownNumbering, StoreDep
from app.web.errors import wants_json
from app.web.notes import go_to
from app.web.pages.chairside_facts import SeriesFacts, facts_of_exposure
from app.web.pages.chairside_words import brief_words
from app.work.findings import decide_finding, region_of, targets_taken

router = APIRouter(include_in_schema=False)

SEVERITY_WORDS = {"fail": "Very probably lost", "warning": "Look again", "note": "Worth knowing"}
DECISION_WORDS = {
    "open": "not decided",
    "accepted": "accepted",
    "changed": "another fault",
    "dismissed": "dismissed",
}


@dataclass(frozen=True, kw_only=True)
class FindingLine:
    """One finding as the review shows it.

    Parameters
    ----------
    points : corners of its outline for an SVG polygon, pixels of the file; empty for the whole image
    proposes : shortfall code, empty where it proposes none
    takes : promised targets that it would take away
    takes_words : the same in words
    decision_words : the decision, with whose it is
    """

    id: str
    number: int
    name: str
    severity: str
    severity_words: str
    message: str
    sure: str
    points: str
    proposes: str
    proposes_name: str
    takes: tuple[Target, ...]
    takes_words: str
    decision: str
    decision_words: str
    chosen: str


def finding_name(code: str) -> str:
    """The code in words."""
    return code.replace("_", " ").capitalize()


def finding_lines(facts: SeriesFacts, row: ExposureRow) -> tuple[FindingLine, ...]:
    """The findings of an image, worst first."""
    return tuple(_line(facts, row, each) for each in facts.findings.get(row.id, ()))


def _line(facts: SeriesFacts, row: ExposureRow, found: FindingRow) -> FindingLine:
    region = region_of(found)
    takes = taken_by(facts, row, found)
    names = technique_errors()
    words = DECISION_WORDS[found.decision]
    if found.decision == "changed" and found.chosen:
        words = f"{words}: {names[ShortfallCode(found.chosen)].name}"
    if found.decided_by:
        words = f"{words} by {facts.person(found.decided_by)}"
    return FindingLine(
        id=found.id,
        number=found.number,
        name=finding_name(found.code),
        severity=found.severity,
        severity_words=SEVERITY_WORDS[found.severity],
        message=found.message,
        sure=f"{found.confidence:.0%} sure" if found.confidence is not None else "",
        points=" ".join(f"{x:.0f},{y:.0f}" for x, y in region),
        proposes=found.proposes or "",
        proposes_name=names[ShortfallCode(found.proposes)].name if found.proposes else "",
        takes=takes,
        takes_words=_words(facts, row, takes),
        decision=found.decision,
        decision_words=words,
        chosen=found.chosen or "",
    )


def _words(facts: SeriesFacts, row: ExposureRow, takes: tuple[Target, ...]) -> str:
    if not takes or row.slot is None:
        return ""
    if len(takes) == len(Reading(facts.series).promised(row.slot)):
        return "all that the slot promises"
    return brief_words(takes, facts.series)


def taken_by(
    facts: SeriesFacts, row: ExposureRow, found: FindingRow, code: str | None = None
) -> tuple[Target, ...]:
    """What a finding would take away of what the image's slot promises."""
    if row.slot is None:
        return ()
    reading = Reading(facts.series)
    promised = reading.in_order(reading.promised(row.slot))
    slot = facts.template.slot(row.slot)
    return targets_taken(found, facts.images[row.image_id], row.view, slot, promised, code)


def decided_codes(facts: SeriesFacts, row: ExposureRow) -> dict[Target, str]:
    """The shortfalls that decisions put into the review form: those made since the image was last reviewed."""
    codes: dict[Target, str] = {}
    for each in facts.findings.get(row.id, ()):
        newer = not row.reviewed or (each.decided_at and row.reviewed_at and each.decided_at > row.reviewed_at)
        if each.chosen and newer:
            for text in each.chosen_targets:
                codes.setdefault(Target(text), each.chosen)
    return codes


def finding_sign(facts: SeriesFacts, row: ExposureRow) -> str:
    """What the mount says of an image's findings that wait for a decision; notes wait for none."""
    waiting = [
        each
        for each in facts.findings.get(row.id, ())
        if each.decision == "open" and each.severity in ("fail", "warning")
    ]
    return ", ".join(dict.fromkeys(finding_name(each.code).lower() for each in waiting))


@router.post("/findings/{finding_id}")
def decide(
    request: Request,
    finding_id: str,
    store: StoreDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Keep a decision: ``decision`` accepted, changed (then ``code``) or dismissed.

    A program gets the shortfall and its targets, for the review form; a person the review with them filled in.
    """
    decision, code = form.text("decision"), form.text("code") or None
    with store.writing(actor.practice_id) as scope:
        found = scope.get(FindingRow, finding_id, "finding")
        facts, exposure = facts_of_exposure(scope, found.exposure_id, numbering)
        known = code if code in {each.value for each in ShortfallCode} else None
        takes = taken_by(facts, exposure, found, known if decision == "changed" else None)
        found = decide_finding(scope, actor, finding_id, decision, code=code, targets=takes)
    if wants_json(request):
        words = DECISION_WORDS[found.decision]
        return JSONResponse(
            {
                "decision": found.decision,
                "words": f"{words} by {actor.name}",
                "code": found.chosen or "",
                "targets": list(found.chosen_targets),
            }
        )
    return go_to(f"/exposures/{exposure.id}/review", "finding-decided")
