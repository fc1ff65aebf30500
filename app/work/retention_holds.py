"""Holds that keep a record beyond its term: a dispute, a request, research."""

from __future__ import annotations

from datetime import date

from app.core.errors import FullcountError, InputError
from app.storage.columns import now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import RetentionHold
from app.work.actor import DENTISTS, Actor, require
from app.work.text import checked_line

HOLD_KINDS = {
    "dispute": "a dispute",
    "request": "the patient's request",
    "research": "research",
    "other": "another reason",
}


def place_retention_hold(
    scope: PracticeScope, actor: Actor, patient_id: str, *, kind: str, note: str, until_on: str, today: date
) -> RetentionHold:
    """Keep a record from being erased, until a day or until the hold is lifted.

    Raises
    ------
    InputError
        Names the field: no kind, no note, or a day that is past.
    """
    require(actor, DENTISTS, "place holds on records")
    patient = scope.get(Patient, patient_id, "patient")
    if patient.erased_at is not None:
        raise FullcountError("this record was erased, so nothing is left to hold")
    if kind not in HOLD_KINDS:
        raise InputError("kind", "choose why the record is kept")
    until = None
    if until_on.strip():
        try:
            until = date.fromisoformat(until_on.strip())
        except ValueError as error:
            raise InputError(
                "until_on", f'"{until_on}" is not a date. Write year, month and day, like 2031-03-27'
            ) from error
        if until < today:
            raise InputError("until_on", f"{until.isoformat()} is past. Enter a day to come, or leave it open")
    return scope.add(
        RetentionHold(
            patient_id=patient.id,
            kind=kind,
            note=checked_line(note, "note"),
            until_on=until,
            placed_by=actor.staff_id,
        )
    )


def lift_retention_hold(scope: PracticeScope, actor: Actor, hold_id: str) -> RetentionHold:
    """End a hold; it stays in the records."""
    require(actor, DENTISTS, "lift holds on records")
    row = scope.get(RetentionHold, hold_id, "hold")
    if row.lifted_at is not None:
        raise FullcountError("this hold is lifted already")
    row.lifted_at, row.lifted_by = now(), actor.staff_id
    scope.session.add(row)
    return row
