"""The demo's second readings and its signed report: one sample half read, one report of the last whole months."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from sqlmodel import col, func, select

from app.exchange.quality_targets import grading_schemes
from app.storage.database import Store
from app.storage.grading import GradingItem
from app.storage.practice import Room
from app.storage.series import ExposureRow
from app.web.pages.report_charts import report_charts
from app.work.actor import Actor
from app.work.grading import keep_second_reading
from app.work.grading_draw import bounds_of, draw_sample
from app.work.quality_period import Period
from app.work.radiation import choose_collimation
from app.work.report_contents import Written
from app.work.report_signing import draft_report, sign_quality_report
from seed.acting import acting

SEED = 20260401
SAMPLE = 100
AGREES_BEST, AGREES_WORST = 0.98, 0.85
"""Chance that the demo's second reader gives the first reader's grade, where that is the best and the worst."""

CONCLUSIONS = (
    "The numbers are small and the intervals wide, so months and people are watched, not ranked.",
    "The month that stands out was looked at with the whole team; each fault was traced to its series.",
)
ACTIONS = (
    "Placement at the lower molars practised with the whole team on two afternoons.",
    "The round collimator of the Gull room is to be replaced by a rectangular one.",
)


def add_grading(store: Store, dentists: Mapping[str, Actor], today: date) -> None:
    """Draw a sample, read half of it, and sign a report.

    Parameters
    ----------
    dentists : at least two, by log-in name; the first draws and signs, the second reads
    today : the demo's day
    """
    first, second = list(dentists.values())[:2]
    period = Period.twelve_months_to(today.replace(day=1) - timedelta(days=1))
    made = _reviewed(store, first, period)
    if not made:
        return
    _collimation(store, first)
    _half_read(store, first, second, period, min(SAMPLE, made), today)
    written = Written(conclusions=CONCLUSIONS, actions=ACTIONS, names="initials")
    previewed = draft_report(store, first, period, written, report_charts).digest
    sign_quality_report(store, first, period, written, report_charts, previewed=previewed)


def _reviewed(store: Store, actor: Actor, period: Period) -> int:
    begin, end = bounds_of(period.first, period.last)
    counted = select(func.count()).where(
        ExposureRow.practice_id == actor.practice_id,
        col(ExposureRow.taken_at) >= begin,
        col(ExposureRow.taken_at) < end,
        col(ExposureRow.reviewed).is_(True),
        col(ExposureRow.set_aside_reason).is_(None),
    )
    with store.reading(actor.practice_id) as scope:
        return scope.session.exec(counted).one()


def _collimation(store: Store, actor: Actor) -> None:
    with acting(store, actor) as scope:
        rooms = {room.id: "round" for room in scope.all(scope.select(Room)) if room.name.startswith("Gull")}
        choose_collimation(scope, actor, practice="rectangular", rooms=rooms)


def _half_read(store: Store, first: Actor, second: Actor, period: Period, size: int, today: date) -> None:
    drawn_at = datetime.combine(today - timedelta(days=3), time(7, 40), tzinfo=UTC)
    chance = Random(SEED)
    with acting(store, first) as scope:
        sample = draw_sample(
            scope,
            first,
            from_day=period.first.isoformat(),
            to_day=period.last.isoformat(),
            size=str(size),
            seed="quillhaven",
            at=drawn_at,
        )
        grades = [each.code for each in grading_schemes()[sample.scheme].grades]
        items = scope.all(
            scope.select(GradingItem).where(GradingItem.sample_id == sample.id).order_by(col(GradingItem.position))
        )
        for item in items[: size // 2]:
            if item.first_reader == second.staff_id:
                continue
            other = next(each for each in grades if each != item.first_grade)
            agrees = AGREES_BEST if item.first_grade == grades[0] else AGREES_WORST
            grade = item.first_grade if chance.random() < agrees else other
            at = drawn_at + timedelta(minutes=30, seconds=20 * item.position)
            keep_second_reading(scope, second, sample.id, item.position, grade, at=at)
