"""What the calendar tells the recall: an appointment is booked, moved or cancelled."""

from __future__ import annotations

from datetime import date

from sqlmodel import col

from app.storage.columns import now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallBooking
from app.work.actor import TEAM, Actor, require
from app.work.recall_recompute import recompute_recall


def note_booked(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    appointment_id: str,
    day: date,
    today: date | None = None,
) -> RecallBooking:
    """An appointment stands on a day of the practice's calendar; told again with another day, it was moved."""
    require(actor, TEAM, "book recalls")
    patient = scope.get(Patient, patient_id, "patient")
    _end(scope, patient.id, appointment_id)
    row = scope.add(
        RecallBooking(patient_id=patient.id, appointment_id=appointment_id, day=day, noted_by=actor.staff_id)
    )
    recompute_recall(scope, patient.id, today or date.today())
    return row


def note_unbooked(
    scope: PracticeScope, actor: Actor, patient_id: str, appointment_id: str, today: date | None = None
) -> None:
    """The appointment stands no longer; the patient is on the list again as before."""
    require(actor, TEAM, "book recalls")
    patient = scope.get(Patient, patient_id, "patient")
    _end(scope, patient.id, appointment_id)
    recompute_recall(scope, patient.id, today or date.today())


def _end(scope: PracticeScope, patient_id: str, appointment_id: str) -> None:
    standing = scope.select(RecallBooking).where(
        RecallBooking.patient_id == patient_id,
        RecallBooking.appointment_id == appointment_id,
        col(RecallBooking.ended_at).is_(None),
    )
    for row in scope.all(standing):
        row.ended_at = now()
        scope.session.add(row)
    scope.session.flush()
