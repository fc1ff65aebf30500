"""The calendar as tables: hours by rooms or by days, and a month by weeks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from app.core.booking.clock import first_moment_from
from app.core.booking.opening import Span
from app.web.pages.bookings_words import STATUS_LOOKS, STATUS_WORDS, address, clock, long_day
from app.work.booking_hours import OpenTimes
from app.work.booking_lists import ListedAppointment


@dataclass(frozen=True, kw_only=True)
class Chip:
    """An appointment in a cell."""

    href: str
    time: str
    minutes: int
    name: str
    more: str
    status: str
    look: str
    word: str


@dataclass(frozen=True, kw_only=True)
class Cell:
    """An hour of a column: what begins in it, and whether the room is open: open, partly or closed."""

    chips: list[Chip]
    state: str


@dataclass(frozen=True, kw_only=True)
class Column:
    """A room of a day, or a day of a week; ``book`` leads to a booking there."""

    title: str
    note: str
    href: str
    book: str
    here: bool


@dataclass(frozen=True, kw_only=True)
class HourRow:
    """An hour across the columns."""

    title: str
    cells: list[Cell]


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A day or a week."""

    caption: str
    columns: list[Column]
    rows: list[HourRow]
    empty: str


@dataclass(frozen=True, kw_only=True)
class MonthDay:
    """A day of the month's table."""

    number: int
    label: str
    href: str
    inside: bool
    here: bool
    closed: bool
    counts: list[str]


def _chip(each: ListedAppointment, more: str) -> Chip:
    return Chip(
        href=f"/bookings/{each.id}",
        time=clock(each.starts, twice=_twice(each.starts)),
        minutes=each.minutes,
        name=each.patient_name,
        more=more,
        status=each.status,
        look=STATUS_LOOKS[each.status],
        word=STATUS_WORDS[each.status],
    )


def _twice(local: datetime) -> bool:
    other = local.replace(fold=1 - local.fold)
    return local.utcoffset() != other.utcoffset()


@dataclass(frozen=True, kw_only=True)
class Lane:
    """What a column is made of: its head, its day, the spans in which it is open, and what stands in it."""

    column: Column
    day: date
    spans: Sequence[Span]
    appointments: Sequence[ListedAppointment]
    more: Callable[[ListedAppointment], str]


def grid(caption: str, lanes: Sequence[Lane], frame: OpenTimes, empty: str) -> Grid:
    """The lanes side by side, an hour a row, from the first hour in which anything is open or booked."""
    used = [
        moment.astimezone(frame.zone).hour
        for lane in lanes
        for span in lane.spans
        for moment in (span.start, span.end - timedelta(seconds=1))
    ]
    used += [
        moment.hour
        for lane in lanes
        for each in lane.appointments
        for moment in (each.starts, each.ends - timedelta(seconds=1))
    ]
    hours = range(min(used), max(used) + 1) if used else range(0)
    return Grid(
        caption=caption,
        columns=[lane.column for lane in lanes],
        rows=[
            HourRow(title=f"{hour:02d}:00", cells=[_cell(lane, hour, frame) for lane in lanes]) for hour in hours
        ],
        empty=empty,
    )


def _cell(lane: Lane, hour: int, frame: OpenTimes) -> Cell:
    start = first_moment_from(lane.day, time(hour), frame.zone)
    following = lane.day + timedelta(days=1) if hour == 23 else lane.day
    end = first_moment_from(following, time((hour + 1) % 24), frame.zone)
    here = Span(start, end)
    if any(span.holds(here) for span in lane.spans):
        state = "open"
    else:
        state = "partly" if any(span.overlaps(here) for span in lane.spans) else "closed"
    chips = [
        _chip(each, lane.more(each))
        for each in lane.appointments
        if each.starts.date() == lane.day and each.starts.hour == hour
    ]
    return Cell(chips=chips, state=state)


def month_weeks(
    first: date,
    today: date,
    frame: OpenTimes,
    rooms: Sequence[str],
    appointments: Sequence[ListedAppointment],
    room: str,
) -> list[list[MonthDay]]:
    """The month of ``first`` in whole weeks from Monday."""
    counted: dict[date, dict[str, int]] = {}
    for each in appointments:
        of_day = counted.setdefault(each.day, {})
        of_day[each.status] = of_day.get(each.status, 0) + 1
    start = first - timedelta(days=first.weekday())
    weeks: list[list[MonthDay]] = []
    while start.month == first.month or not weeks:
        weeks.append(
            [
                _month_day(start + timedelta(days=ahead), first, today, frame, rooms, counted, room)
                for ahead in range(7)
            ]
        )
        start += timedelta(weeks=1)
    return weeks


def _month_day(
    day: date,
    first: date,
    today: date,
    frame: OpenTimes,
    rooms: Sequence[str],
    counted: dict[date, dict[str, int]],
    room: str,
) -> MonthDay:
    statuses = counted.get(day, {})
    return MonthDay(
        number=day.day,
        label=long_day(day),
        href=address("/calendar", view="day", day=day.isoformat(), room=room),
        inside=day.month == first.month,
        here=day == today,
        closed=not any(frame.spans(each, day) for each in rooms),
        counts=[f"{statuses[status]} {STATUS_WORDS[status]}" for status in STATUS_WORDS if status in statuses],
    )
