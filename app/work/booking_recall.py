"""Where the calendar and the recalls meet: what speaks against a day, and who is booked."""

from __future__ import annotations

from datetime import date, datetime

from sqlmodel import col

from app.storage.bookings import Appointment
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work.actor import Actor
from app.work.booking_hours import practice_zone

REVIEW = "review"
"""Purpose of a visit without images."""


def cautions(scope: PracticeScope, patient_id: str, purpose: str, day: date, but: str = "") -> list[str]:
    """Sentences that the desk must have read before it books; empty where nothing speaks against the day.

    Parameters
    ----------
    day : on the calendar of the practice
    but : an appointment that does not count, because it is being moved
    """
    # A visit without images needs no interval.
    said = [] if purpose == REVIEW else _too_early(scope, patient_id, day)
    others = scope.select(Appointment).where(
        Appointment.patient_id == patient_id, Appointment.status == "booked", Appointment.id != but
    )
    zone = practice_zone(scope)
    for other in scope.all(others.order_by(col(Appointment.starts_at)).limit(3)):
        local = other.starts_at.astimezone(zone)
        said.append(f"The patient is booked already, on {local:%Y-%m-%d} at {local:%H:%M}.")
    return said


def _too_early(scope: PracticeScope, patient_id: str, day: date) -> list[str]:
    items = scope.select(RecallItem).where(RecallItem.patient_id == patient_id, col(RecallItem.earliest_on) > day)
    return [
        f"The last images are of {item.last_on}: the earliest sensible day for new ones is {item.earliest_on}."
        for item in scope.all(items)
    ]


def note_taken(scope: PracticeScope, actor: Actor, row: Appointment, day: date, at: datetime) -> None:
    """Tell the recalls that the patient is booked, or booked for another day."""


def note_freed(scope: PracticeScope, actor: Actor, row: Appointment, at: datetime) -> None:
    """Tell the recalls that the appointment is over or called off: what is due now is worked out anew."""
