"""The record of a series: one page to print, with what the audit said when it was closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.targets import Target
from app.storage.columns import now
from app.web.dependencies import CurrentActor, ReadingDep, ShownNumbering
from app.web.pages.chairside_board import VERDICT_WORDS
from app.web.pages.chairside_chart import ChartView, chart_view, why_gap
from app.web.pages.chairside_facts import SeriesFacts, series_facts
from app.web.pages.chairside_mount import Mount, mount_of
from app.web.pages.chairside_words import brief_words
from app.web.rendering import View, render
from app.work.correction_history import ShownCorrection, corrections_of_series

router = APIRouter(include_in_schema=False)

CAUTIONS = (
    "Says whether each target is on an image, not what the image shows of disease; it is no diagnosis.",
    "Coverage is as the reviewer confirmed it, against the views and the chart named here.",
    "Whether any image is taken is the dentist's decision for this patient.",
)
"""What stands on every record."""

MOST_NAMED = 24
"""Targets named one by one for one reason; more would not leave the record on one page."""

MOST_CORRECTIONS = 6
"""Corrections that are printed; the patient's page has all of them."""

MOST_PLANNED = 6
"""Exposures of the plan that are listed with what they show."""


@dataclass(frozen=True, kw_only=True)
class RecordView(View):
    """The record.

    Parameters
    ----------
    gaps : what is not shown and why, one sentence for each kind of gap
    closed : whether the series is closed; an open one is printed as it stands now, and says so
    """

    series_id: str
    patient: str
    chart_number: str
    born: date
    started: date
    series: str
    prescribed_by: str
    prescription: str
    operators: str
    verdict: str
    verdict_words: str
    counts: str
    mount: Mount
    chart: ChartView
    gaps: tuple[tuple[str, str], ...]
    exempt: tuple[tuple[str, str], ...]
    plan: tuple[tuple[str, str], ...]
    retakes: tuple[str, ...]
    aside: tuple[str, ...]
    cautions: tuple[str, ...]
    corrections: tuple[ShownCorrection, ...]
    more_corrections: int
    closed: bool
    closed_by: str
    closed_at: datetime | None
    dentist: str
    reason: str
    printed_at: datetime


@router.get("/series/{series_id}/record")
def record(
    request: Request, series_id: str, scope: ReadingDep, actor: CurrentActor, numbering: ShownNumbering
) -> Response:
    """The record; of an open series as it stands now."""
    facts = series_facts(scope, series_id, numbering)
    corrections = corrections_of_series(scope, actor, series_id)
    return render(request, "pages/chairside_record.html", record_view(facts, corrections))


def record_view(facts: SeriesFacts, corrections: Sequence[ShownCorrection]) -> RecordView:
    """The record of a series with what was corrected about its images."""
    audit, row, sign = facts.audited.audit, facts.row, facts.sign_off
    verdict = sign.verdict if sign is not None else audit.verdict
    chart = chart_view(audit, facts.image_names())
    why: dict[str, list[Target]] = {}
    for gap in audit.gaps:
        why.setdefault(why_gap(gap, facts.image_names()), []).append(gap.target)
    waived: dict[str, list[Target]] = {}
    for each in audit.exempt:
        waived.setdefault(each.reason, []).append(each.target)
    return RecordView(
        heading=f"Record of {facts.patient.name}",
        series_id=row.id,
        patient=facts.patient.name,
        chart_number=facts.patient.chart_number,
        born=facts.patient.birth_date,
        started=row.started_on,
        series=facts.template.title,
        prescribed_by=facts.person(row.prescribed_by),
        prescription=row.reason,
        operators=", ".join(dict.fromkeys(facts.person(each.operator_id) for each in facts.counted))
        or "nobody yet",
        verdict=verdict,
        verdict_words=VERDICT_WORDS[verdict],
        counts=chart.summary,
        mount=mount_of(facts),
        chart=chart,
        gaps=tuple((_in_one_line(of, facts), words) for words, of in why.items()),
        exempt=tuple((_in_one_line(of, facts), words) for words, of in waived.items()),
        plan=tuple(_plan(facts)),
        retakes=tuple(_retakes(facts)),
        aside=tuple(
            f"image {each.position}: {each.set_aside_reason}"
            for each in facts.audited.exposures
            if each.set_aside_reason is not None
        ),
        cautions=CAUTIONS,
        corrections=tuple(corrections[:MOST_CORRECTIONS]),
        more_corrections=max(0, len(corrections) - MOST_CORRECTIONS),
        closed=sign is not None,
        closed_by=facts.person(sign.closed_by) if sign is not None else "",
        closed_at=sign.closed_at if sign is not None else None,
        dentist=facts.person(sign.dentist_id) if sign is not None and sign.dentist_id else "",
        reason=sign.reason if sign is not None else "",
        printed_at=now(),
    )


def _in_one_line(of: list[Target], facts: SeriesFacts) -> str:
    """The targets by name while they fit on the page; the chart above shows every one of them."""
    return brief_words(of, facts.series) if len(of) <= MOST_NAMED else f"{len(of)} targets, marked in the chart"


def _plan(facts: SeriesFacts) -> list[tuple[str, str]]:
    planned = facts.audited.audit.plan.exposures
    if len(planned) > MOST_PLANNED:
        return [(", ".join(facts.template.slot(each.slot).title for each in planned), "as the chart shows")]
    return [(facts.template.slot(each.slot).title, brief_words(each.closes, facts.series)) for each in planned]


def _retakes(facts: SeriesFacts) -> list[str]:
    made: list[str] = []
    for each in facts.counted:
        before = facts.audited.exposure(each.retake_of) if each.retake_of else None
        if before is not None:
            why = (each.retake_reason or "").replace("_", " ")
            made.append(f"{facts.image_name(each)} repeats image {before.position}" + (f" ({why})" if why else ""))
    return made
