"""What came of trying to reach a patient, and when to try again."""

from __future__ import annotations

from datetime import date, datetime

from app.core.errors import InputError
from app.core.recall.intervals import day_before
from app.storage.columns import now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import ContactNote, RecallHold
from app.work.actor import TEAM, Actor, require
from app.work.recall_claims import release
from app.work.recall_days import coming_day_or_none
from app.work.recall_recompute import recompute_recall
from app.work.text import checked_line

OUTCOMES = {
    "reached": "reached",
    "message": "left a message",
    "booked": "booked",
    "declined": "declined",
    "wrong_number": "wrong number",
    "letter": "letter written",
}
"""What can come of a contact, in words."""


def note_contact(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    outcome: str,
    note: str = "",
    next_try_on: str = "",
    today: date,
    at: datetime | None = None,
) -> ContactNote:
    """Record a contact; who declined is held from now, until the next try where one is set. Ends one's own claim.

    Raises
    ------
    InputError
        Names the field: no such outcome, a next try that is not ahead.
    """
    require(actor, TEAM, "record contacts")
    patient = scope.get(Patient, patient_id, "patient")
    if outcome not in OUTCOMES:
        raise InputError("outcome", f'no outcome "{outcome}". Choose one of the buttons')
    again = coming_day_or_none(next_try_on, "next_try_on", today=today, after=True)
    row = scope.add(
        ContactNote(
            patient_id=patient.id,
            outcome=outcome,
            note=checked_line(note, "note", empty=True, longest=300),
            next_try_on=again,
            made_by=actor.staff_id,
            made_at=at or now(),
        )
    )
    if outcome == "declined":
        scope.add(
            RecallHold(
                patient_id=patient.id,
                kind="declined",
                from_on=today,
                until_on=day_before(again) if again is not None else None,
                note=row.note,
                placed_by=actor.staff_id,
            )
        )
    release(scope, actor, patient.id)
    recompute_recall(scope, patient.id, today)
    return row
