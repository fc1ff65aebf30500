"""What is taken in a room, and when it is free."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from sqlmodel import col, select

from app.core.booking.opening import Span, free_starts
from app.storage.bookings import Appointment
from app.storage.practice_scope import PracticeScope
from app.work.booking_hours import open_times

DAYS_SEARCHED = 60
"""How far the next free times are looked for, days."""


def busy_spans(
    scope: PracticeScope, room_id: str, start: datetime, end: datetime, *, but: str = ""
) -> Sequence[Span]:
    """What is taken in a room between two moments.

    Parameters
    ----------
    but : an appointment that does not count, because it is being moved
    """
    query = select(Appointment.starts_at, Appointment.ends_at).where(
        Appointment.practice_id == scope.practice_id,
        Appointment.room_id == room_id,
        Appointment.status != "cancelled",
        Appointment.id != but,
        col(Appointment.starts_at) < end,
        # No appointment lasts a day; without this the index is read from the room's first day on.
        col(Appointment.starts_at) > start - timedelta(days=1),
        col(Appointment.ends_at) > start,
    )
    return [Span(*row) for row in scope.session.exec(query).all()]


def free_on(
    scope: PracticeScope, room_id: str, day: date, minutes: int, *, at: datetime, every: int = 10, but: str = ""
) -> tuple[datetime, ...]:
    """The moments of a local day at which an appointment of that length could begin, in UTC."""
    spans = open_times(scope, day, day).spans(room_id, day)
    if not spans:
        return ()
    busy = busy_spans(scope, room_id, spans[0].start, spans[-1].end, but=but)
    return free_starts(spans, busy, minutes, not_before=at, every=every)


def next_free(
    scope: PracticeScope,
    room_id: str,
    minutes: int,
    *,
    since: datetime,
    at: datetime,
    most: int = 3,
    every: int = 10,
    but: str = "",
) -> tuple[datetime, ...]:
    """The next moments after ``since`` at which an appointment of that length could begin, in UTC.

    Parameters
    ----------
    most : how many are looked for, over the next sixty days
    """
    frame = open_times(scope, at.date(), since.date() + timedelta(days=DAYS_SEARCHED))
    first = since.astimezone(frame.zone).date()
    busy = busy_spans(scope, room_id, since, since + timedelta(days=DAYS_SEARCHED + 1), but=but)
    found: list[datetime] = []
    for ahead in range(DAYS_SEARCHED):
        spans = frame.spans(room_id, first + timedelta(days=ahead))
        found.extend(free_starts(spans, busy, minutes, not_before=max(since, at), every=every))
        if len(found) >= most:
            break
    return tuple(found[:most])
