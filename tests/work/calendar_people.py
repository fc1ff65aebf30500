"""A practice with an open room, for tests of the calendar: everything on the Berlin clock."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from app.storage.bookings import Appointment
from app.work import booking_hours, bookings
from app.work.actor import Actor
from app.work.bookings import Wanted
from app.work.practice import add_room
from tests.people import Practice, a_patient

NOW = datetime(2026, 3, 27, 7, 0, tzinfo=UTC)
"""Eight o'clock of a Friday in Berlin, two days before clocks go forward."""
OPEN = ["08:00-12:00, 13:00-17:00"] * 5 + ["", ""]


def a_calendar(practice: Practice, room: str = "Garden", week: list[str] = OPEN) -> str:
    """Set the clock to Berlin's and open a room; the answer is its id."""
    doctor = practice.dentist
    with practice.store.writing(doctor.practice_id) as scope:
        booking_hours.save_booking_settings(
            scope, doctor, time_zone="Europe/Berlin", recall_share="100", recall_minutes="20"
        )
        made = add_room(scope, doctor, room)
        booking_hours.save_hours(scope, doctor, made.id, week)
    return made.id


def booked(
    practice: Practice,
    room_id: str,
    patient_id: str = "",
    *,
    day: str = "2026-03-30",
    time: str = "09:00",
    minutes: str = "20",
    which: str = "",
    actor: Actor | None = None,
    **more: Any,
) -> Appointment:
    """An appointment, of a new patient where none is named; cautions are taken as read."""
    patient_id = patient_id or a_patient(practice, f"N{day}{time}").id
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return bookings.book(
            scope,
            actor or practice.front_desk,
            patient_id,
            wanted=Wanted(room_id=room_id, day=day, time=time, minutes=minutes, which=which),
            **({"purpose": "bitewings-4", "at": NOW, "confirmed": True} | more),
        )
