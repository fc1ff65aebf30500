"""What the program found in an image: recorded when it is loaded, decided by a person."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col

from app.core.affected import affected_targets, as_laid
from app.core.errors import InputError, did_you_mean
from app.core.exposures import TAKES_AWAY, ShortfallCode
from app.core.quality.rates import Rate, rate
from app.core.targets import Target, kind, parse_target
from app.core.templates import Slot
from app.imaging.examine import Examined
from app.imaging.finding import Finding
from app.storage.columns import now
from app.storage.findings import FindingRow, ImageMeasure
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.copies import measure_signature
from app.work.start_series import open_series

DECISIONS = ("accepted", "changed", "dismissed")

PROPOSES: dict[str, ShortfallCode] = {
    code.value: code
    for code in (
        ShortfallCode.BLANK,
        ShortfallCode.TOO_LIGHT,
        ShortfallCode.TOO_DARK,
        ShortfallCode.BLURRED,
        ShortfallCode.CONE_CUT,
    )
}
"""The shortfall of a finding that does not name its own; the others are matters of the file, not of technique."""

WEIGHT = {"fail": 0, "warning": 1, "note": 2}


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """How people decided on one kind of finding.

    Parameters
    ----------
    shown : all of it, also those on which nobody has decided
    share : of the decided ones, those accepted as they stood; None while none is decided
    """

    code: str
    severity: str
    shown: int
    accepted: int
    changed: int
    dismissed: int
    share: Rate


def record_measure(scope: PracticeScope, image: ImageRow, examined: Examined) -> None:
    """Keep what was measured on a file that is new to the practice."""
    found = examined.inspection
    scope.add(
        ImageMeasure(
            image_id=image.id,
            orientation=found.orientation,
            inverted=bool(getattr(found, "inverted", False)),
            measurements=dict(found.measurements),
            **measure_signature(examined.sketch),
        ),
        at_once=False,
    )


def record_findings(scope: PracticeScope, exposure: ExposureRow, findings: Iterable[Finding]) -> None:
    """Keep what was found in an exposure, gravest first; nobody has decided on it yet."""
    ordered = sorted(findings, key=lambda each: WEIGHT[each.severity.value])
    for number, each in enumerate(ordered, start=1):
        confidence = getattr(each, "confidence", None)
        scope.add(
            FindingRow(
                exposure_id=exposure.id,
                number=number,
                code=each.code.value,
                severity=each.severity.value,
                score=float(each.score),
                confidence=None if confidence is None else float(confidence),
                message=each.message,
                box=[int(part) for part in each.box or ()],
                outline=[[float(x), float(y)] for x, y in each.outline or ()],
                proposes=_proposed(each),
            ),
            at_once=False,
        )


def _proposed(finding: Finding) -> str | None:
    if finding.severity.value == "note":
        return None
    if hasattr(finding, "proposes"):
        named: str | None = finding.proposes
        return named
    code = PROPOSES.get(finding.code.value)
    return code.value if code is not None else None


def findings_of(scope: PracticeScope, exposure_ids: Sequence[str]) -> dict[str, list[FindingRow]]:
    """The findings of exposures by exposure, gravest first."""
    query = scope.select(FindingRow).where(col(FindingRow.exposure_id).in_(exposure_ids))
    found: dict[str, list[FindingRow]] = {}
    for each in scope.all(query.order_by(col(FindingRow.number))):
        found.setdefault(each.exposure_id, []).append(each)
    return found


def decide_finding(
    scope: PracticeScope,
    actor: Actor,
    finding_id: str,
    decision: str,
    *,
    code: str | None = None,
    targets: Sequence[str] = (),
    at: datetime | None = None,
) -> FindingRow:
    """Keep what a person makes of a finding; a later decision takes its place while the series is open.

    Parameters
    ----------
    decision : ``accepted``, ``changed`` (it is another fault: ``code``) or ``dismissed`` (there is none)
    targets : what it took away, as proposed or as the person sees it

    Raises
    ------
    InputError
        Names the field: an unknown decision, a change without its code.
    """
    require(actor, CHAIRSIDE, "decide on findings")
    row = scope.get(FindingRow, finding_id, "finding")
    exposure = scope.get(ExposureRow, row.exposure_id, "image")
    series = open_series(scope, exposure.series_id)
    if decision not in DECISIONS:
        raise InputError(
            "decision",
            f'"{decision}" is no decision. Choose {", ".join(DECISIONS)}.' + did_you_mean(decision, DECISIONS),
        )
    known = [each.value for each in ShortfallCode]
    chosen = None
    if decision == "changed":
        if code not in known:
            raise InputError("code", "choose which fault it is instead." + did_you_mean(code or "", known))
        chosen = code
    elif decision == "accepted":
        chosen = row.proposes
    row.decision = decision
    row.chosen = chosen
    row.chosen_targets = [parse_target(text, "targets") for text in targets] if chosen else []
    row.decided_by, row.decided_at = actor.staff_id, at or now()
    series.version += 1
    scope.session.add(series)
    scope.changed(row, "chosen_targets")
    return row


def agreement_of_findings(scope: PracticeScope, actor: Actor) -> list[Agreement]:
    """How often people agree with the program, by kind of finding and severity; images set aside do not count."""
    require(actor, CHAIRSIDE, "see how findings were decided")
    aside = scope.select(ExposureRow).where(col(ExposureRow.set_aside_reason).is_not(None))
    left_out = {each.id for each in scope.all(aside)}
    counts: dict[tuple[str, str], dict[str, int]] = {}
    for row in scope.all(scope.select(FindingRow)):
        if row.exposure_id not in left_out:
            count = counts.setdefault((row.code, row.severity), dict.fromkeys(("open", *DECISIONS), 0))
            count[row.decision] += 1
    made = [
        Agreement(
            code=code,
            severity=severity,
            shown=sum(count.values()),
            accepted=count["accepted"],
            changed=count["changed"],
            dismissed=count["dismissed"],
            share=rate(count["accepted"], sum(count[each] for each in DECISIONS)),
        )
        for (code, severity), count in counts.items()
    ]
    return sorted(made, key=lambda each: (each.code, WEIGHT[each.severity]))


def region_of(row: FindingRow) -> list[tuple[float, float]]:
    """The outline of a finding, pixels: its own, or the corners of its box; empty for the whole image."""
    if row.outline:
        return [(float(x), float(y)) for x, y in row.outline]
    if not row.box:
        return []
    x, y, width, height = (float(part) for part in row.box)
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def targets_taken(
    row: FindingRow,
    image: ImageRow,
    view: Mapping[str, object],
    slot: Slot,
    promised: Sequence[Target],
    code: str | None = None,
) -> tuple[Target, ...]:
    """What a finding would take away of what its slot promises of this patient; empty where it proposes nothing.

    Parameters
    ----------
    view : how the image is laid, as the person turned it
    code : shortfall to reckon with; the proposed one by default
    """
    named = code or row.proposes
    if named is None:
        return ()
    kinds = TAKES_AWAY[ShortfallCode(named)]
    able = tuple(target for target in promised if kind(target) in kinds)
    region = region_of(row)
    turns = int(str(view.get("quarter_turns", 0)))
    wide, tall = (image.height, image.width) if turns % 2 else (image.width, image.height)
    wanted = slot.receptor.orientation if slot.receptor is not None else None
    # An image that lies otherwise than its slot says nothing of where its teeth stand: everything is in question.
    if not region or (wanted is not None and wide != tall and (wide > tall) != (wanted == "landscape")):
        return able
    laid = [
        as_laid(
            (x / image.width, y / image.height), quarter_turns=turns, mirrored=bool(view.get("mirrored", False))
        )
        for x, y in region
    ]
    return affected_targets(able, slot, laid)
