"""Why a patient is not called: declined, gone elsewhere, or as the dentist says; each from a day until a day."""

from __future__ import annotations

from datetime import date

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallHold
from app.work.actor import DENTISTS, TEAM, Actor, require
from app.work.recall_days import coming_day_or_none
from app.work.recall_recompute import recompute_recall
from app.work.text import checked_line

HOLD_KINDS = {
    "declined": "the patient declined",
    "transferred": "transferred elsewhere, with images",
    "pregnancy": "note on pregnancy, for the dentist to decide",
    "dentist": "held by the dentist",
}
"""Kinds of hold, in words. Pregnancy is no bar to images that are needed: its note leaves them to the dentist."""


def place_hold(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    kind: str,
    until_on: str = "",
    note: str = "",
    today: date,
) -> RecallHold:
    """Hold a patient's recall from today; the patient stays on the list, under the filter of those held.

    Parameters
    ----------
    until_on : last day, or empty: until lifted

    Raises
    ------
    InputError
        Names the field: no such kind, a day that is past, a dentist's hold without its reason.
    NotAllowed
        A dentist's hold by anybody else.
    """
    require(actor, TEAM, "hold a recall")
    if kind == "dentist":
        require(actor, DENTISTS, "hold a recall for the dentist")
    patient = scope.get(Patient, patient_id, "patient")
    if kind not in HOLD_KINDS:
        raise InputError("kind", f'no reason "{kind}" to hold. Choose one from the list')
    words = checked_line(note, "note", empty=kind != "dentist", longest=300)
    until = coming_day_or_none(until_on, "until_on", today=today)
    row = scope.add(
        RecallHold(
            patient_id=patient.id,
            kind=kind,
            from_on=today,
            until_on=until,
            note=words,
            placed_by=actor.staff_id,
        )
    )
    recompute_recall(scope, patient.id, today)
    return row


def lift_hold(scope: PracticeScope, actor: Actor, hold_id: str, today: date) -> RecallHold:
    """End a hold now; a dentist's hold, and what was left to the dentist, only by a dentist."""
    require(actor, TEAM, "lift a hold")
    row = scope.get(RecallHold, hold_id, "hold")
    if row.kind in ("dentist", "pregnancy"):
        require(actor, DENTISTS, "lift what is left to the dentist")
    if row.lifted_at is None:
        row.lifted_at, row.lifted_by = now(), actor.staff_id
        scope.session.add(row)
        recompute_recall(scope, row.patient_id, today)
    return row
