"""Receptors over time: grey level of air and enamel, noise and sharpness, each against its own limits."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.dependencies import CurrentActor, StoreDep
from app.web.notes import go_to
from app.web.pages.quality_address import Asked, AskedReview, Choice, ReviewScope, filters
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
from app.web.quality_drawing.scale import shown_value
from app.web.rendering import render
from app.work.quality_period import checked_choice
from app.work.quality_receptors import measure_waiting
from app.work.quality_trends import RECEPTOR_MEASURES, MeasureTrend, measured_receptors, receptor_trend

router = APIRouter(include_in_schema=False)

HERE = "/quality/receptors"
MOST_MEASURED = 40
"""Images measured at one request: some seconds."""
GRAINS = {"month": "By month", "week": "By week"}


@dataclass(frozen=True, kw_only=True)
class MeasureSection:
    """One measurement of the receptor: its chart with limits, its smoothed course, and what they say."""

    title: str
    limits: Figure
    drift: Figure
    baseline: str
    signals: list[str]


@dataclass(frozen=True, kw_only=True)
class ReceptorsView(ReviewView):
    """One receptor; ``sections`` is empty where none has been measured."""

    receptor: str
    sections: list[MeasureSection]
    rules: list[tuple[str, str]]
    measure: str


@router.get(HERE)
def show_receptor(
    request: Request,
    scope: ReviewScope,
    actor: CurrentActor,
    asked: AskedReview,
    receptor: str = "",
    grain: str = "month",
) -> Response:
    """The measurements of one receptor; without one asked for, of the first."""
    grain = checked_choice(grain, GRAINS, "grain")
    measured = dict(measured_receptors(scope, actor))
    if receptor:
        checked_choice(receptor, measured, "receptor")
    chosen = receptor or next(iter(measured), "")
    found = [
        receptor_trend(scope, actor, chosen, measure=measure, period=asked.period, grain=grain)
        for measure in RECEPTOR_MEASURES
        if chosen
    ]
    sections = [section(asked, each) for each in found]
    if asked.csv:
        return csv_answer(
            asked.csv, [table for each in sections for table in (each.limits.table, each.drift.table)]
        )
    choices = [Choice(name="grain", label="Drawn", options=list(GRAINS.items()), value=grain)]
    if measured:
        choices.insert(0, Choice(name="receptor", label="Receptor", options=list(measured.items()), value=chosen))
    view = ReceptorsView(
        heading="Receptors over time",
        frame=above(
            scope, actor, asked, HERE, filters(scope, asked, HERE, *choices, by_operator=False), shared=True
        ),
        receptor=measured.get(chosen, ""),
        sections=sections,
        rules=RULE_WORDS,
        measure=asked.address(f"{HERE}/measure", receptor=chosen, grain=grain),
    )
    return render(request, "pages/quality_receptors.html", view)


@router.post(f"{HERE}/measure")
def measure_images(
    actor: CurrentActor, store: StoreDep, asked: AskedReview, receptor: str = "", grain: str = "month"
) -> Response:
    """Measure stored images that have no reading yet, as many as a person waits for."""
    done = measure_waiting(store, actor, MOST_MEASURED)
    note = "receptors-all-measured" if done < MOST_MEASURED else "receptors-measured"
    return go_to(asked.address(HERE, receptor=receptor, grain=grain), note)


def section(asked: Asked, found: MeasureTrend) -> MeasureSection:
    """One measurement as charts and tables."""
    title, unit = RECEPTOR_MEASURES[found.measure]
    series = as_series(asked, found, title, unit)
    return MeasureSection(
        title=title,
        limits=limits_figure(series),
        drift=drift_figure(series),
        baseline=f"The limits come from the first {found.baseline} periods." if found.baseline else "",
        signals=signals_told(found),
    )


def as_series(asked: Asked, found: MeasureTrend, title: str, unit: str) -> PeriodSeries:
    """The course of one measurement."""
    key = found.measure.replace("_", "-")
    here = asked.address(HERE, receptor=found.receptor_id, grain=found.grain)
    return PeriodSeries(
        key=key,
        title=f"{title}, {found.receptor}",
        grain=found.grain,
        measured=f"{title} ({unit})",
        unit="number",
        counted=(Column("Images", True),),
        points=[
            PeriodPoint(
                start=point.start,
                counted=f"{shown_value(point.mean or 0.0, 'number')} from {point.n} images",
                cells=(count(point.n),),
                chart=point.chart,
                drift=point.drift,
            )
            for point in found.points
        ],
        notes=found.notes,
        csv={name: with_csv(here, name) for name in (f"{key}-limits", f"{key}-drift")},
        from_zero=False,
    )


def signals_told(found: MeasureTrend) -> list[str]:
    """What the charts signal, in short sentences."""
    told = [
        f"{sentence(period_name(point.start, found.grain))}: rule "
        f"{', '.join(RULE_NUMBERS[code] for code in point.chart.signals)}."
        for point in found.points
        if point.chart.signals
    ]
    drifting = [point for point in found.points if point.drift.signal and point.n]
    if drifting:
        told.append(f"The smoothed course passes its limit from {period_name(drifting[0].start, found.grain)} on.")
    return told
