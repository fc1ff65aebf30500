"""The review over time: limits and run rules, the smoothed course, and notes of what happened when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.quality.run_rules import RULES
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, StoreDep
from app.web.notes import go_to
from app.web.pages.quality_address import Asked, AskedReview, Choice, ReviewScope, filters
from app.web.pages.quality_comparison import OUTCOME_TITLES
from app.web.pages.quality_figure_tables import BREAKDOWN_MEASURES
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import Column, Figure, count, csv_answer, with_csv
from app.web.pages.quality_time_figures import (
    RULE_NUMBERS,
    RULE_WORDS,
    PeriodPoint,
    PeriodSeries,
    drift_figure,
    limits_figure,
    period_name,
    sentence,
)
from app.web.rendering import FieldError, errors_of, render
from app.work.actor import Actor
from app.work.quality_period import checked_choice
from app.work.quality_record import Note, annotate, withdraw_annotation
from app.work.quality_trends import Trend, trend

router = APIRouter(include_in_schema=False)

HERE = "/quality/over-time"
GRAINS = {"month": "By month", "week": "By week"}
FIELDS = ("day", "text")
BELOW = {"retaken": "Exposures", "non_diagnostic": "Reviewed"}


@dataclass(frozen=True, kw_only=True)
class NoteShown:
    """A note, and whether the reader may take it off: their own, a dentist any."""

    note: Note
    may_withdraw: bool


@dataclass(frozen=True, kw_only=True)
class TrendView(ReviewView):
    """Both charts, the rules in words, and the notes."""

    limits: Figure
    drift: Figure
    signals: list[str]
    rules: list[tuple[str, str]]
    notes: list[NoteShown]
    values: dict[str, str]
    action: str
    back: str


@router.get(HERE)
def show_trend(
    request: Request,
    scope: ReviewScope,
    actor: CurrentActor,
    asked: AskedReview,
    outcome: str = "retaken",
    grain: str = "month",
) -> Response:
    """The course of the period."""
    return _page(request, scope, actor, asked, outcome, grain)


def _page(
    request: Request,
    scope: PracticeScope,
    actor: Actor,
    asked: Asked,
    outcome: str,
    grain: str,
    values: dict[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
) -> Response:
    outcome = checked_choice(outcome, OUTCOME_TITLES, "outcome")
    grain = checked_choice(grain, GRAINS, "grain")
    found = trend(scope, actor, asked.period, outcome=outcome, grain=grain, operator_id=asked.operator_id)
    series = as_series(asked, found)
    limits, drift = limits_figure(series), drift_figure(series)
    if asked.csv:
        return csv_answer(asked.csv, [limits.table, drift.table])
    choices = (
        Choice(name="outcome", label="Counted", options=list(BREAKDOWN_MEASURES.items()), value=outcome),
        Choice(name="grain", label="Drawn", options=list(GRAINS.items()), value=grain),
    )
    here = asked.address(HERE, outcome=outcome, grain=grain)
    view = TrendView(
        heading="Over time",
        errors=errors,
        frame=above(scope, actor, asked, HERE, filters(scope, asked, HERE, *choices)),
        limits=limits,
        drift=drift,
        signals=signals_told(found),
        rules=RULE_WORDS,
        notes=[NoteShown(note=each, may_withdraw=not asked.own or each.by == actor.name) for each in found.notes],
        values=values or {"day": date.today().isoformat(), "text": ""},
        action=asked.address("/quality/notes", outcome=outcome, grain=grain),
        back=here.partition("?")[2],
    )
    return render(request, "pages/quality_trends.html", view, status=422 if errors else 200)


def as_series(asked: Asked, found: Trend) -> PeriodSeries:
    """The trend as the charts need it; each count opens its exposures."""
    here = asked.address(HERE, outcome=found.outcome, grain=found.grain)
    points = []
    for point in found.points:
        # A week has no place in the address, so only months open what is behind them.
        behind = (
            asked.of_month(point.start).address("/quality/exposures", measure=found.outcome)
            if found.grain == "month"
            else ""
        )
        points.append(
            PeriodPoint(
                start=point.start,
                counted=f"{point.events} of {point.n}",
                cells=(count(point.events, behind), count(point.n)),
                chart=point.chart,
                drift=point.drift,
            )
        )
    return PeriodSeries(
        key="trend",
        title=f"{OUTCOME_TITLES[found.outcome]}, {asked.period.text}",
        grain=found.grain,
        measured=f"{OUTCOME_TITLES[found.outcome]} (%)",
        unit="share",
        counted=(Column("Counted", True), Column(BELOW.get(found.outcome, "Exposures"), True)),
        points=points,
        notes=found.notes,
        csv={key: with_csv(here, key) for key in ("trend-limits", "trend-drift")},
    )


def signals_told(found: Trend) -> list[str]:
    """What the charts signal, in sentences."""
    told = [
        f"{sentence(period_name(point.start, found.grain))}: {RULES[code]} (rule {RULE_NUMBERS[code]})."
        for point in found.points
        for code in point.chart.signals
    ]
    drifting = [point for point in found.points if point.drift.signal and point.n]
    if drifting:
        told.append(f"The smoothed course passes its limit from {period_name(drifting[0].start, found.grain)} on.")
    return told


@router.post("/quality/notes")
def new_note(
    request: Request,
    actor: CurrentActor,
    store: StoreDep,
    form: Posted,
    asked: AskedReview,
    outcome: str = "retaken",
    grain: str = "month",
) -> Response:
    """Write down what happened, so that the charts show it."""
    values = {name: form.text(name) for name in FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            annotate(scope, actor, day=values["day"], text=values["text"])
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            return _page(request, scope, actor, asked, outcome, grain, values, errors_of(error, *FIELDS))
    return go_to(asked.address(HERE, outcome=outcome, grain=grain), "note-kept")


@router.post("/quality/notes/{note_id}/withdraw")
def withdraw_note(
    note_id: str,
    actor: CurrentActor,
    store: StoreDep,
    asked: AskedReview,
    outcome: str = "retaken",
    grain: str = "month",
) -> Response:
    """Take a note off the charts."""
    with store.writing(actor.practice_id) as scope:
        withdraw_annotation(scope, actor, note_id)
    return go_to(asked.address(HERE, outcome=outcome, grain=grain), "note-withdrawn")
