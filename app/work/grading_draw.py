"""Draws a random sample of reviewed exposures, and keeps the first grade of each as it stands then."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

from sqlmodel import col

from app.core.errors import InputError, did_you_mean
from app.core.quality.grades import grade_of_review
from app.core.quality.sampling import pool_digest, proportional_sample, simple_sample
from app.core.reading import Reading
from app.exchange.quality_targets import grading_schemes
from app.storage.columns import now
from app.storage.grading import GradingItem, GradingSample
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import DENTISTS, Actor, require
from app.work.audit_series import core_series
from app.work.text import checked_line

METHODS = {"simple": "simple random", "by_operator": "the same share of each operator's"}
LARGEST = 1000
"""Images of one sample at most; more would not be read."""
USUAL_SCHEME = "two-grades-2020"
USUAL_SIZE = 100
"""Images analysed at least, intraoral (published guidance of 2020, its Table 5.2; verified: S59, S60)."""


def draw_sample(
    scope: PracticeScope,
    actor: Actor,
    *,
    from_day: str,
    to_day: str,
    size: str,
    method: str = "simple",
    scheme: str = USUAL_SCHEME,
    seed: str = "",
    at: datetime | None = None,
) -> GradingSample:
    """Draw a sample of the reviewed exposures of a period, and keep their first grades.

    Parameters
    ----------
    from_day, to_day : year-month-day, both counted in
    seed : text that gives the order of the draw; a random one by default
    at : moment of the draw; now by default

    Raises
    ------
    InputError
        Names the field: a wrong date or size, an unknown method or scheme, too few exposures to draw from.
    """
    require(actor, DENTISTS, "draw a grading sample")
    first, last = checked_period(from_day, to_day)
    if method not in METHODS:
        raise InputError("method", f'"{method}" is no way to draw. Choose one.' + did_you_mean(method, METHODS))
    schemes = grading_schemes()
    if scheme not in schemes:
        raise InputError("scheme", f'"{scheme}" is no grading scheme. Choose one.' + did_you_mean(scheme, schemes))
    wanted = _checked_size(size)
    seed = checked_line(seed, "seed", empty=True, longest=64) or secrets.token_hex(8)
    pool = _pool(scope, first, last)
    if len(pool) < wanted:
        raise InputError(
            "size",
            f"{wanted} images are wanted, but {len(pool)} reviewed images were taken from {first} to {last}."
            + (f" Draw {len(pool)} or fewer, or choose a longer period" if pool else " Choose another period"),
        )
    ids = [each.id for each in pool]
    if method == "simple":
        drawn = simple_sample(ids, wanted, seed)
    else:
        drawn = proportional_sample({each.id: each.operator_id for each in pool}, wanted, seed)
    sample = scope.add(
        GradingSample(
            from_day=first,
            to_day=last,
            scheme=scheme,
            method=method,
            size=wanted,
            seed=seed,
            pool_count=len(pool),
            pool_digest=pool_digest(ids),
            drawn_by=actor.staff_id,
            drawn_at=at or now(),
        )
    )
    _keep_first_grades(scope, sample, drawn, {each.id: each for each in pool})
    return sample


def checked_period(from_day: str, to_day: str) -> tuple[date, date]:
    """The two days of a period.

    Raises
    ------
    InputError
        At ``from_day`` or ``to_day``: no date, or the wrong way round.
    """
    days: list[date] = []
    for path, text in (("from_day", from_day), ("to_day", to_day)):
        try:
            days.append(date.fromisoformat(text.strip()))
        except ValueError:
            raise InputError(path, f'"{text}" is not a date. Write year, month and day, like 2026-03-27') from None
    if days[1] < days[0]:
        raise InputError("to_day", f"{days[1]} lies before {days[0]}. Exchange the two, or choose a later day")
    return days[0], days[1]


def bounds_of(first: date, last: date) -> tuple[datetime, datetime]:
    """The period as moments: from the first day's midnight to that after the last day, UTC."""
    begin = datetime.combine(first, time.min, tzinfo=UTC)
    return begin, datetime.combine(last + timedelta(days=1), time.min, tzinfo=UTC)


def _checked_size(text: str) -> int:
    if not text.strip().isdecimal() or not 1 <= int(text) <= LARGEST:
        raise InputError("size", f'"{text}" cannot be drawn. Enter a whole number from 1 to {LARGEST}')
    return int(text)


def _pool(scope: PracticeScope, first: date, last: date) -> Sequence[ExposureRow]:
    """Every exposure of the period that has been reviewed and counts."""
    begin, end = bounds_of(first, last)
    query = scope.select(ExposureRow).where(
        col(ExposureRow.taken_at) >= begin,
        col(ExposureRow.taken_at) < end,
        col(ExposureRow.reviewed).is_(True),
        col(ExposureRow.reviewed_by).is_not(None),
        col(ExposureRow.set_aside_reason).is_(None),
        col(ExposureRow.slot).is_not(None),
    )
    return scope.all(query)


def _keep_first_grades(
    scope: PracticeScope, sample: GradingSample, drawn: Sequence[str], pool: dict[str, ExposureRow]
) -> None:
    series = {pool[each].series_id for each in drawn}
    rows = {row.id: row for row in scope.all(scope.select(SeriesRow).where(col(SeriesRow.id).in_(sorted(series))))}
    grades = [each.code for each in grading_schemes()[sample.scheme].grades]
    for position, exposure_id in enumerate(drawn, start=1):
        exposure = pool[exposure_id]
        scope.add(
            GradingItem(
                sample_id=sample.id,
                position=position,
                exposure_id=exposure_id,
                first_grade=_first_grade(rows[exposure.series_id], exposure, grades),
                first_reader=str(exposure.reviewed_by),
                first_read_at=exposure.reviewed_at or sample.drawn_at,
            ),
            at_once=False,
        )
    scope.session.flush()


def _first_grade(row: SeriesRow, exposure: ExposureRow, grades: Sequence[str]) -> str:
    reading = Reading(core_series(row, [exposure]))
    seen = reading.series.exposures[0]
    return grade_of_review(grades, faulty=bool(seen.shortfalls), lost=bool(reading.lost(seen)))
