"""Quality over time: control charts and the drift of rates and of what receptors deliver."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from statistics import fmean, variance
from typing import Literal

from sqlalchemy import func
from sqlmodel import col, select

from app.core.quality.comparison import Tally
from app.core.quality.control_charts import ChartPoint, Group, means_chart, p_chart
from app.core.quality.drift import EwmaPoint, ewma
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.quality import ReceptorReading
from app.storage.quality_figures import QualityCell
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.quality_comparison import OUTCOMES
from app.work.quality_figures import whose
from app.work.quality_period import Period, checked_choice
from app.work.quality_record import Note, annotations_in
from app.work.quality_sums import WHOLE

Grain = Literal["week", "month"]
GRAINS: dict[str, str] = {"week": "Week", "month": "Month"}

RECEPTOR_MEASURES: dict[str, tuple[str, str]] = {
    "air_grey": ("Grey level of air", "share of the grey range, 0 black"),
    "enamel_grey": ("Grey level of enamel", "share of the grey range, 0 black"),
    "noise": ("Noise", "share of the grey range"),
    "sharpness": ("Width of the sharpest edges", "thousandths of the image's long side"),
}
"""What is followed of a receptor: its name and unit."""

BASELINE = 6
"""First periods that set a receptor's own centre line, so that ageing stands out against its beginning."""


@dataclass(frozen=True, kw_only=True)
class TrendPoint:
    """One week or month: events of n exposures, its place on the control chart, and the drift so far."""

    start: date
    events: int
    n: int
    chart: ChartPoint
    drift: EwmaPoint


@dataclass(frozen=True, kw_only=True)
class Trend:
    """A rate over time."""

    outcome: str
    grain: str
    points: tuple[TrendPoint, ...]
    centre: float
    notes: tuple[Note, ...]


@dataclass(frozen=True, kw_only=True)
class MeasurePoint:
    """One week or month of a measurement; ``mean`` is None where nothing was measured."""

    start: date
    n: int
    mean: float | None
    chart: ChartPoint
    drift: EwmaPoint


@dataclass(frozen=True, kw_only=True)
class MeasureTrend:
    """A measurement of one receptor over time; the first ``baseline`` periods set the centre line."""

    receptor_id: str
    receptor: str
    measure: str
    grain: str
    baseline: int
    points: tuple[MeasurePoint, ...]
    notes: tuple[Note, ...]


def trend(
    scope: PracticeScope,
    actor: Actor,
    period: Period,
    *,
    outcome: str = "retaken",
    grain: str = "month",
    operator_id: str = "",
) -> Trend:
    """The p-chart of a rate with its EWMA, week by week (from Monday) or month by month.

    Raises
    ------
    InputError
        At ``outcome`` or ``grain``.
    """
    operator_id = whose(actor, operator_id)
    checked_choice(outcome, OUTCOMES, "outcome")
    checked_choice(grain, GRAINS, "grain")
    starts = _starts(period, grain)
    events, numbers = dict.fromkeys(starts, 0), dict.fromkeys(starts, 0)
    for day, count, number in _by_day(scope, period, outcome, operator_id):
        start = _start(day, grain)
        events[start] += count
        numbers[start] += number
    tallies = [Tally(events=events[start], exposures=numbers[start]) for start in starts]
    chart = p_chart(tallies)
    centre = chart[0].centre
    drift = ewma([point.value for point in chart], centre=centre, sigmas=[point.sigma for point in chart])
    points = tuple(
        TrendPoint(start=start, events=tally.events, n=tally.exposures, chart=point, drift=moving)
        for start, tally, point, moving in zip(starts, tallies, chart, drift, strict=True)
    )
    return Trend(
        outcome=outcome, grain=grain, points=points, centre=centre, notes=annotations_in(scope, actor, period)
    )


def _by_day(
    scope: PracticeScope, period: Period, outcome: str, operator_id: str
) -> Iterable[tuple[date, int, int]]:
    of = QualityCell.reviewed if outcome == "non_diagnostic" else QualityCell.exposures
    query = select(col(QualityCell.start), func.sum(getattr(QualityCell, outcome)), func.sum(of)).where(
        QualityCell.practice_id == scope.practice_id,
        QualityCell.grain == "day",
        QualityCell.dimension == WHOLE,
        col(QualityCell.start).between(period.first, period.last),
    )
    if operator_id:
        query = query.where(QualityCell.operator_id == operator_id)
    return [
        (day, int(count), int(number))
        for day, count, number in scope.session.exec(query.group_by(col(QualityCell.start))).all()
    ]


def _start(day: date, grain: str) -> date:
    return day.replace(day=1) if grain == "month" else day - timedelta(days=day.weekday())


def _starts(period: Period, grain: str) -> tuple[date, ...]:
    """The first day of each month, or each Monday, that has a day in the period."""
    if grain == "month":
        return period.months
    first = _start(period.first, "week")
    return tuple(first + timedelta(weeks=number) for number in range((period.last - first).days // 7 + 1))


def receptor_series(
    scope: PracticeScope, receptor_id: str, measure: str, period: Period | None = None
) -> tuple[tuple[datetime, float], ...]:
    """Each reading of a measurement of a receptor, in the order of time."""
    checked_choice(measure, {key: words for key, (words, _) in RECEPTOR_MEASURES.items()}, "measure")
    column = getattr(ReceptorReading, measure)
    query = select(ReceptorReading.taken_at, column).where(
        ReceptorReading.practice_id == scope.practice_id,
        ReceptorReading.receptor_id == receptor_id,
        col(column).is_not(None),
    )
    if period is not None:
        query = query.where(
            ReceptorReading.taken_at >= datetime.combine(period.first, time(), UTC),
            ReceptorReading.taken_at < datetime.combine(period.last + timedelta(days=1), time(), UTC),
        )
    rows = scope.session.exec(query.order_by(col(ReceptorReading.taken_at))).all()
    return tuple((taken_at, float(value)) for taken_at, value in rows)


def receptor_trend(
    scope: PracticeScope,
    actor: Actor,
    receptor_id: str,
    *,
    measure: str,
    period: Period,
    grain: str = "month",
) -> MeasureTrend:
    """A receptor's measurement over time, against its own first periods in the period chosen.

    Raises
    ------
    NotFound
        No such receptor in this practice.
    InputError
        At ``measure`` or ``grain``.
    """
    require(actor, CHAIRSIDE, "see the quality review")
    receptor = scope.get(Receptor, receptor_id, "receptor")
    checked_choice(grain, GRAINS, "grain")
    found: dict[date, list[float]] = {}
    for taken_at, value in receptor_series(scope, receptor_id, measure, period):
        found.setdefault(_start(taken_at.date(), grain), []).append(value)
    starts = _starts(period, grain)
    groups = [_group(found.get(start, ())) for start in starts]
    baseline = _baseline(groups)
    chart = means_chart(groups, baseline=baseline)
    drift = ewma([point.value for point in chart], centre=chart[0].centre, sigmas=[point.sigma for point in chart])
    return MeasureTrend(
        receptor_id=receptor.id,
        receptor=receptor.name,
        measure=measure,
        grain=grain,
        baseline=baseline,
        points=tuple(
            MeasurePoint(start=start, n=point.n, mean=point.value, chart=point, drift=moving)
            for start, point, moving in zip(starts, chart, drift, strict=True)
        ),
        notes=annotations_in(scope, actor, period),
    )


def _group(values: Sequence[float]) -> Group:
    if not values:
        return Group(mean=0.0, variance=0.0, n=0)
    return Group(mean=fmean(values), variance=variance(values) if len(values) > 1 else 0.0, n=len(values))


def _baseline(groups: Sequence[Group]) -> int:
    """How many periods from the first on hold the `BASELINE` first ones with readings."""
    with_readings = [number for number, group in enumerate(groups, 1) if group.n]
    if not with_readings:
        return 1
    return with_readings[min(BASELINE, len(with_readings)) - 1]


def measured_receptors(scope: PracticeScope, actor: Actor) -> tuple[tuple[str, str], ...]:
    """Id and name of each receptor that has readings."""
    require(actor, CHAIRSIDE, "see the quality review")
    query = select(ReceptorReading.receptor_id).where(ReceptorReading.practice_id == scope.practice_id).distinct()
    known = set(scope.session.exec(query).all())
    rows = scope.all(scope.select(Receptor).order_by(col(Receptor.name)))
    return tuple((row.id, row.name) for row in rows if row.id in known)
