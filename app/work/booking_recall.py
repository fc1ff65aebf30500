"""Where the calendar and the recalls meet: what speaks against a day, and who is booked."""

from __future__ import annotations

from datetime import date, datetime

from sqlmodel import col

from app.storage.bookings import Appointment
from app.storage.practice_scope import PracticeScope
from app.work.actor import Actor
from app.work.booking_hours import practice_zone
from app.work.recall_bookings import note_booked, note_unbooked
from app.work.recall_warnings import booking_warnings

REVIEW = "review"
"""Purpose of a visit without images."""


def cautions(
    scope: PracticeScope, patient_id: str, purpose: str, day: date, *, today: date, but: str = ""
) -> list[str]:
    """Sentences that the desk must have read before it books; empty where nothing speaks against the day.

    Parameters
    ----------
    day, today : on the calendar of the practice
    but : an appointment that does not count, because it is being moved
    """
    others = scope.select(Appointment).where(
        Appointment.patient_id == patient_id, Appointment.status == "booked", Appointment.id != but
    )
    said: list[str] = []
    # A visit without images needs no interval.
    if purpose != REVIEW:
        said = booking_warnings(scope, patient_id, day, today, but_appointment_id=but)
        # Those for images are told of by the recall.
        others = others.where(Appointment.purpose == REVIEW)
    zone = practice_zone(scope)
    for other in scope.all(others.order_by(col(Appointment.starts_at)).limit(3)):
        local = other.starts_at.astimezone(zone)
        said.append(f"The patient is booked already, on {local:%Y-%m-%d} at {local:%H:%M}.")
    return said


def note_taken(scope: PracticeScope, actor: Actor, row: Appointment, day: date, at: datetime) -> None:
    """Tell the recalls that the patient is booked, or booked for another day."""
    if row.purpose != REVIEW:
        note_booked(scope, actor, row.patient_id, row.id, day, today=_today(scope, at))


def note_freed(scope: PracticeScope, actor: Actor, row: Appointment, at: datetime) -> None:
    """Tell the recalls that the appointment is over or called off: what is due now is worked out anew."""
    if row.purpose != REVIEW:
        note_unbooked(scope, actor, row.patient_id, row.id, today=_today(scope, at))


def _today(scope: PracticeScope, at: datetime) -> date:
    return at.astimezone(practice_zone(scope)).date()
