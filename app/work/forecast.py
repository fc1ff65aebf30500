"""The year to come: recalls that fall due each week against the places of the rooms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from sqlalchemy import func
from sqlmodel import col, select

from app.core.booking.clock import day_bounds
from app.core.booking.opening import Hours, open_spans
from app.core.recall.capacity import ShowRate, WeekForecast, forecast, show_rate
from app.storage.bookings import Appointment, BookingSettings
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work.booking_hours import OpenTimes, booking_settings, open_times, rooms_in_use

WEEKS = 52
SHOW_RATE_DAYS = 365
"""The show rate is that of the last year: habits change. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class ForecastWeek:
    """A week of the forecast, named by its Monday.

    Parameters
    ----------
    open_minutes, booked_minutes : of all rooms counted, as the clock really runs
    """

    monday: date
    open_minutes: int
    booked_minutes: int
    figures: WeekForecast


@dataclass(frozen=True, kw_only=True)
class YearForecast:
    """The forecast with what it counts with."""

    weeks: tuple[ForecastWeek, ...]
    rate: ShowRate
    backlog: int
    settings: BookingSettings
    rooms: tuple[str, ...]


def year_forecast(scope: PracticeScope, at: datetime, *, room_id: str = "") -> YearForecast:
    """The next 52 weeks, from the Monday of this one.

    Recalls count that are neither booked nor held. A place is the practice's usual length of a recall; the rooms
    have as many as fit into the share of their opening hours that is open to recalls, less what is booked already.

    Parameters
    ----------
    room_id : count the places of this room only; all rooms in use where empty
    """
    settings = booking_settings(scope)
    rooms = [room for room in rooms_in_use(scope) if room_id in ("", room.id)]
    frame_today = open_times(scope, at.date(), at.date())
    today = at.astimezone(frame_today.zone).date()
    monday = today - timedelta(days=today.weekday())
    mondays = [monday + timedelta(weeks=number) for number in range(WEEKS)]
    frame = open_times(scope, monday, monday + timedelta(weeks=WEEKS))
    opened = _open_minutes(frame, [room.id for room in rooms], mondays, at)
    booked = _booked_minutes(scope, frame, [room.id for room in rooms], mondays, at)
    backlog, due = _due_by_week(scope, monday)
    rate = _rate(scope, at)
    places = [
        max(0, int((total * settings.recall_share / 100 - taken) // settings.recall_minutes))
        for total, taken in zip(opened, booked, strict=True)
    ]
    weeks = forecast(due, places, backlog=backlog, rate=rate)
    return YearForecast(
        weeks=tuple(
            ForecastWeek(monday=day, open_minutes=total, booked_minutes=taken, figures=figures)
            for day, total, taken, figures in zip(mondays, opened, booked, weeks, strict=True)
        ),
        rate=rate,
        backlog=backlog,
        settings=settings,
        rooms=tuple(room.name for room in rooms),
    )


def _open_minutes(frame: OpenTimes, rooms: list[str], mondays: list[date], at: datetime) -> list[int]:
    """What is left of each week's opening hours from this moment on, minutes."""
    minute = timedelta(minutes=1)
    found = []
    for monday in mondays:
        total = 0.0
        for ahead in range(7):
            day = monday + timedelta(days=ahead)
            # Rooms that keep the same hours on a day are open for the same minutes.
            known: dict[tuple[Hours, ...], float] = {}
            for room in rooms:
                if frame.is_closed(room, day):
                    continue
                hours = tuple(each for each in frame.hours.get(room, ()) if each.weekday == day.weekday())
                if hours not in known:
                    known[hours] = sum(
                        max(0.0, (span.end - max(span.start, at)) / minute)
                        for span in open_spans(day, hours, frame.zone)
                    )
                total += known[hours]
        found.append(int(total))
    return found


def _booked_minutes(
    scope: PracticeScope, frame: OpenTimes, rooms: list[str], mondays: list[date], at: datetime
) -> list[int]:
    """What is booked in each week from this moment on, minutes; one look into the index of times a week."""
    edges = [day_bounds(monday, frame.zone)[0] for monday in mondays]
    edges.append(day_bounds(mondays[-1] + timedelta(weeks=1), frame.zone)[0])
    found = []
    for start, end in pairwise(edges):
        query = select(func.coalesce(func.sum(Appointment.minutes), 0)).where(
            Appointment.practice_id == scope.practice_id,
            Appointment.status == "booked",
            col(Appointment.starts_at) >= max(start, at),
            col(Appointment.starts_at) < end,
            col(Appointment.room_id).in_(rooms),
        )
        found.append(int(scope.session.exec(query).one()))
    return found


def _due_by_week(scope: PracticeScope, monday: date) -> tuple[int, list[int]]:
    """Recalls that wait from before this week, and those that fall due in each of the weeks to come."""
    # Grouped by day inside the database, along its index; at most one row a day comes back.
    query = (
        select(col(RecallItem.due_on), func.count())
        .where(
            RecallItem.practice_id == scope.practice_id,
            RecallItem.state == "open",
            col(RecallItem.due_on) < monday + timedelta(weeks=WEEKS),
        )
        .group_by(col(RecallItem.due_on))
    )
    backlog, weeks = 0, [0] * WEEKS
    for day, count in scope.session.exec(query).all():
        if day is None:
            continue
        if day < monday:
            backlog += count
        else:
            weeks[(day - monday).days // 7] += count
    return backlog, weeks


def _rate(scope: PracticeScope, at: datetime) -> ShowRate:
    query = (
        select(Appointment.status, func.count())
        .where(
            Appointment.practice_id == scope.practice_id,
            col(Appointment.status).in_(("kept", "missed")),
            col(Appointment.starts_at) > at - timedelta(days=SHOW_RATE_DAYS),
        )
        .group_by(Appointment.status)
    )
    counted = {status: int(count) for status, count in scope.session.exec(query).all()}
    return show_rate(counted.get("kept", 0), counted.get("missed", 0))
