"""The calendar's frame: the practice's time zone, the hours of its rooms, days on which they are closed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, time
from zoneinfo import ZoneInfo, available_timezones

from sqlmodel import col, or_

from app.core.booking.clock import zone_named
from app.core.booking.opening import WEEKDAYS, Hours, Span, checked_minutes, checked_week, open_spans
from app.core.errors import InputError
from app.storage.bookings import BookingSettings, ClosedDay, RoomHours
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.work.actor import DENTISTS, Actor, require
from app.work.text import checked_line

_SPAN = re.compile(r"\s*(\d{1,2})(?:[:.](\d{2}))?\s*(?:-|–|to)\s*(\d{1,2})(?:[:.](\d{2}))?\s*")


@dataclass(frozen=True, kw_only=True)
class OpenTimes:
    """Hours and closed days of every room, read once, to be asked for many days."""

    zone: ZoneInfo
    hours: Mapping[str, Sequence[Hours]]
    closed: Mapping[tuple[date, str | None], str] = field(default_factory=dict)

    def spans(self, room_id: str, day: date) -> tuple[Span, ...]:
        """When the room is really open on that day."""
        if self.is_closed(room_id, day):
            return ()
        return open_spans(day, self.hours.get(room_id, ()), self.zone)

    def is_closed(self, room_id: str, day: date) -> bool:
        """Whether the room or the practice was closed for that day."""
        return (day, None) in self.closed or (day, room_id) in self.closed

    def why_closed(self, room_id: str, day: date) -> str:
        """What was written for closing the room or the practice on that day; empty where it is not closed so."""
        return self.closed.get((day, None), "") or self.closed.get((day, room_id), "")


def booking_settings(scope: PracticeScope) -> BookingSettings:
    """What the practice has chosen, or the defaults where it has chosen nothing yet."""
    return scope.first(scope.select(BookingSettings)) or BookingSettings()


def practice_zone(scope: PracticeScope) -> ZoneInfo:
    """The zone whose clock hangs in the practice."""
    return ZoneInfo(booking_settings(scope).time_zone)


def rooms_in_use(scope: PracticeScope) -> Sequence[Room]:
    """The rooms that can be booked, by name."""
    return scope.all(scope.select(Room).where(col(Room.retired).is_(False)).order_by(Room.name))


def hours_of(scope: PracticeScope, room_id: str) -> tuple[Hours, ...]:
    """The week of a room."""
    rows = scope.all(scope.select(RoomHours).where(RoomHours.room_id == room_id))
    return tuple(sorted(Hours(row.weekday, row.opens, row.closes) for row in rows))


def open_times(scope: PracticeScope, first: date, last: date) -> OpenTimes:
    """The frame of the days from ``first`` to ``last``."""
    hours: dict[str, list[Hours]] = {}
    for row in scope.all(scope.select(RoomHours)):
        hours.setdefault(row.room_id, []).append(Hours(row.weekday, row.opens, row.closes))
    days = scope.select(ClosedDay).where(ClosedDay.day >= first, ClosedDay.day <= last)
    closed = {(row.day, row.room_id): row.reason or "closed" for row in scope.all(days)}
    return OpenTimes(zone=practice_zone(scope), hours=hours, closed=closed)


def save_booking_settings(
    scope: PracticeScope, actor: Actor, *, time_zone: str, recall_share: str, recall_minutes: str
) -> BookingSettings:
    """Keep time zone, and what the forecast counts with; appointments keep their moment, whatever the clock."""
    require(actor, DENTISTS, "change the calendar's settings")
    zone = zone_named(time_zone.strip(), available_timezones()).key
    share = recall_share.strip()
    if not (share.isascii() and share.isdigit() and 1 <= int(share[:4]) <= 100):
        raise InputError("recall_share", f'"{recall_share}" is not a share. Write a number from 1 to 100')
    minutes = checked_minutes(recall_minutes, "recall_minutes")
    kept = scope.first(scope.select(BookingSettings)) or scope.add(BookingSettings())
    kept.time_zone, kept.recall_share, kept.recall_minutes = zone, int(share), minutes
    scope.session.add(kept)
    scope.session.flush()
    return kept


def save_hours(scope: PracticeScope, actor: Actor, room_id: str, written: Sequence[str]) -> tuple[Hours, ...]:
    """Keep the week of a room, as written: one text for each weekday from Monday, empty where it is closed.

    What is booked already stays, even outside the new hours.

    Raises
    ------
    InputError
        At ``hours-0`` to ``hours-6``.
    """
    require(actor, DENTISTS, "change opening hours")
    room = scope.get(Room, room_id, "room")
    week = [hours for weekday, text in enumerate(written[:7]) for hours in _day_written(weekday, text)]
    for row in scope.all(scope.select(RoomHours).where(RoomHours.room_id == room.id)):
        scope.session.delete(row)
    for each in week:
        scope.add(RoomHours(room_id=room.id, weekday=each.weekday, opens=each.opens, closes=each.closes))
    return tuple(week)


def _day_written(weekday: int, text: str) -> tuple[Hours, ...]:
    path = f"hours-{weekday}"
    if not text.strip():
        return ()
    spans = []
    for part in text.split(","):
        found = _SPAN.fullmatch(part)
        if found is None:
            raise InputError(
                path,
                f'"{part.strip()}" is not a span of {WEEKDAYS[weekday]}. Write it like 08:00-12:00, 13:00-17:30',
            )
        numbers = [int(number or 0) for number in found.groups()]
        if numbers[0] > 23 or numbers[2] > 23 or numbers[1] > 59 or numbers[3] > 59:
            raise InputError(path, f'"{part.strip()}" holds no time of day. Write times from 00:00 to 23:59')
        if any(number % 5 for number in (numbers[1], numbers[3])):
            raise InputError(path, f'"{part.strip()}" is not in steps of five minutes. Round it')
        spans.append(Hours(weekday, time(numbers[0], numbers[1]), time(numbers[2], numbers[3])))
    try:
        return checked_week(spans)
    except InputError as error:
        raise InputError(path, error.message) from error


def written_day(hours: Sequence[Hours], weekday: int) -> str:
    """The hours of a weekday as they are typed."""
    return ", ".join(f"{each.opens:%H:%M}-{each.closes:%H:%M}" for each in hours if each.weekday == weekday)


def closed_days(scope: PracticeScope, since: date) -> Sequence[ClosedDay]:
    """The closed days to come, in order."""
    return scope.all(scope.select(ClosedDay).where(ClosedDay.day >= since).order_by(col(ClosedDay.day)))


def close_day(
    scope: PracticeScope, actor: Actor, *, day: str, room_id: str, reason: str, today: date
) -> ClosedDay:
    """Close a room, or without a room the practice, on a day; what is booked then stays and must be moved."""
    require(actor, DENTISTS, "close days")
    try:
        chosen = date.fromisoformat(day.strip())
    except ValueError as error:
        raise InputError("day", f'"{day}" is not a date. Write year, month and day, like 2026-12-24') from error
    if chosen < today:
        raise InputError("day", f"{chosen.isoformat()} is past. Choose today or a day to come")
    room = scope.get(Room, room_id, "room").id if room_id else None
    words = checked_line(reason, "reason", empty=True, longest=80)
    twin = scope.select(ClosedDay).where(
        ClosedDay.day == chosen, or_(col(ClosedDay.room_id).is_(None), ClosedDay.room_id == room)
    )
    if scope.first(twin) is not None:
        raise InputError("day", f"{chosen.isoformat()} is closed already. Choose another day")
    return scope.add(ClosedDay(day=chosen, room_id=room, reason=words))


def reopen_day(scope: PracticeScope, actor: Actor, closed_id: str) -> None:
    """Take a closed day back."""
    require(actor, DENTISTS, "close days")
    scope.session.delete(scope.get(ClosedDay, closed_id, "closed day"))
    scope.session.flush()
