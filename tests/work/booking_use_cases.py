"""Who may do what in the calendar: the rows of the table of roles."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from app.storage.bookings import Appointment
from app.storage.practice_scope import PracticeScope
from app.work import (
    booking_free,
    booking_hours,
    booking_lists,
    booking_recall,
    bookings,
    feeds,
    forecast,
)
from app.work.actor import DENTISTS, EVERYBODY, TEAM, Actor, Role

ROOMS = (booking_free, booking_hours, booking_lists, booking_recall, bookings, feeds, forecast)

NOW = datetime(2026, 3, 27, 7, tzinfo=UTC)
HOURS = ["08:00-18:00"] * 7


def wanted(room: str, time: str = "09:00") -> bookings.Wanted:
    """A Monday's time in that room."""
    return bookings.Wanted(room_id=room, day="2026-03-30", time=time, minutes="20")


def an_appointment(scope: PracticeScope, on: Any) -> Appointment:
    """One that the dentist booked, in a room that the dentist opened."""
    doctor = on.practice.dentist
    booking_hours.save_hours(scope, doctor, on.room, HOURS)
    return bookings.book(
        scope, doctor, on.patient, wanted=wanted(on.room), purpose="review", confirmed=True, at=NOW
    )


def a_closed_day(scope: PracticeScope, on: Any) -> str:
    """A day that the dentist closed."""
    return booking_hours.close_day(
        scope, on.practice.dentist, day="2026-04-06", room_id="", reason="", today=NOW.date()
    ).id


def own_feed(scope: PracticeScope, actor: Actor) -> str:
    """An address of the actor's own."""
    feeds.make_feed(scope, actor, shows_names=False, at=NOW)
    return feeds.own_feeds(scope, actor)[0].id


def book_opened(scope: PracticeScope, actor: Actor, on: Any) -> object:
    """Book in a room that is open."""
    booking_hours.save_hours(scope, on.practice.dentist, on.room, HOURS)
    return bookings.book(
        scope, actor, on.patient, wanted=wanted(on.room), purpose="review", confirmed=True, at=NOW
    )


USE_CASES: dict[str, tuple[frozenset[Role], Callable[[PracticeScope, Actor, Any], object]]] = {
    "book": (TEAM, book_opened),
    "move": (
        TEAM,
        lambda scope, actor, on: bookings.move(
            scope,
            actor,
            an_appointment(scope, on).id,
            wanted=wanted(on.room, "10:00"),
            version=1,
            confirmed=True,
            at=NOW,
        ),
    ),
    "cancel": (
        TEAM,
        lambda scope, actor, on: bookings.cancel(
            scope, actor, an_appointment(scope, on).id, reason="called", version=1, at=NOW
        ),
    ),
    "mark": (
        TEAM,
        lambda scope, actor, on: bookings.mark(
            scope, actor, an_appointment(scope, on).id, status="kept", version=1, at=NOW + timedelta(days=4)
        ),
    ),
    "note_taken": (
        TEAM,
        lambda scope, actor, on: booking_recall.note_taken(
            scope, actor, an_imaging_visit(scope, on), NOW.date(), NOW
        ),
    ),
    "note_freed": (
        TEAM,
        lambda scope, actor, on: booking_recall.note_freed(scope, actor, an_imaging_visit(scope, on), NOW),
    ),
    "make_feed": (TEAM, lambda scope, actor, on: feeds.make_feed(scope, actor, shows_names=False, at=NOW)),
    "revoke_feed": (
        TEAM,
        lambda scope, actor, on: feeds.revoke_feed(scope, actor, own_feed(scope, actor), at=NOW),
    ),
    "own_feeds": (EVERYBODY, lambda scope, actor, on: feeds.own_feeds(scope, actor)),
    "save_booking_settings": (
        DENTISTS,
        lambda scope, actor, on: booking_hours.save_booking_settings(
            scope, actor, time_zone="Europe/Berlin", recall_share="50", recall_minutes="20"
        ),
    ),
    "save_hours": (DENTISTS, lambda scope, actor, on: booking_hours.save_hours(scope, actor, on.room, HOURS)),
    "close_day": (
        DENTISTS,
        lambda scope, actor, on: booking_hours.close_day(
            scope, actor, day="2026-04-06", room_id=on.room, reason="", today=NOW.date()
        ),
    ),
    "reopen_day": (
        DENTISTS,
        lambda scope, actor, on: booking_hours.reopen_day(scope, actor, a_closed_day(scope, on)),
    ),
}


def an_imaging_visit(scope: PracticeScope, on: Any) -> Appointment:
    """An appointment for images, so that the recalls hear of it."""
    row = an_appointment(scope, on)
    row.purpose = "bitewings-4"
    return row


REACHING: dict[str, Callable[[PracticeScope, Any], object]] = {
    "book their patient": lambda scope, t: bookings.book(
        scope, t.stranger, t.patient, wanted=wanted(t.room), purpose="review", confirmed=True, at=NOW
    ),
    "save_hours of their room": lambda scope, t: booking_hours.save_hours(scope, t.stranger, t.room, HOURS),
    "close_day of their room": lambda scope, t: booking_hours.close_day(
        scope, t.stranger, day="2026-04-06", room_id=t.room, reason="", today=NOW.date()
    ),
    "move": lambda scope, t: bookings.move(
        scope, t.stranger, t.appointment, wanted=wanted(t.room), version=1, confirmed=True, at=NOW
    ),
    "cancel": lambda scope, t: bookings.cancel(scope, t.stranger, t.appointment, reason="x", version=1, at=NOW),
    "mark": lambda scope, t: bookings.mark(
        scope, t.stranger, t.appointment, status="kept", version=1, at=NOW + timedelta(days=9)
    ),
    "appointment_listed": lambda scope, t: booking_lists.appointment_listed(scope, t.appointment),
}
"""What a stranger tries on another practice's calendar; ``t.appointment`` is one of theirs."""
