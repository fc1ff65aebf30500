"""Radiographs brought from elsewhere, with their day: they count like the practice's own."""

from __future__ import annotations

from datetime import date

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import OutsideImages
from app.work.actor import TEAM, Actor, require
from app.work.recall_days import past_day
from app.work.recall_recompute import recompute_recall
from app.work.text import checked_line

OUTSIDE_KINDS = {"bitewings": "bitewings", "full_series": "full-mouth series"}
SIDES = {"both": "both sides", "right": "right side only", "left": "left side only"}


def record_outside_images(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    kind: str,
    taken_on: str,
    sides: str = "both",
    diagnostic: bool = True,
    origin: str = "",
    import_id: str = "",
    today: date,
    recompute: bool = True,
) -> OutsideImages:
    """Record that images were taken elsewhere on a day.

    Parameters
    ----------
    taken_on : the day they were taken, year-month-day
    sides : ``both``, ``right`` or ``left``: what their bitewings show
    diagnostic : False where they cannot be read: then they count for nothing
    import_id : the import that brings them; empty by hand
    recompute : whether to work out the patient's lines at once; an import does so once for all

    Raises
    ------
    InputError
        Names the field that is wrong.
    """
    require(actor, TEAM, "record images from elsewhere")
    patient = scope.get(Patient, patient_id, "patient")
    if kind not in OUTSIDE_KINDS:
        raise InputError("kind", f'"{kind}" is not counted here. Choose bitewings or a full-mouth series')
    if sides not in SIDES:
        raise InputError("sides", f'no sides "{sides}". Choose both, right or left')
    row = scope.add(
        OutsideImages(
            patient_id=patient.id,
            kind=kind,
            sides=sides,
            diagnostic=diagnostic,
            taken_on=past_day(taken_on, "taken_on", today=today, born=patient.birth_date),
            origin=checked_line(origin, "origin", empty=True),
            import_id=import_id,
            recorded_by=actor.staff_id,
        ),
        at_once=recompute,
    )
    if recompute:
        recompute_recall(scope, patient.id, today)
    return row


def withdraw_outside_images(
    scope: PracticeScope, actor: Actor, outside_id: str, today: date, *, recompute: bool = True
) -> OutsideImages:
    """Take back a record of images from elsewhere that was wrong; it stays in the history, and counts no more."""
    require(actor, TEAM, "correct images from elsewhere")
    row = scope.get(OutsideImages, outside_id, "record of images from elsewhere")
    if row.withdrawn_at is None:
        row.withdrawn_at, row.withdrawn_by = now(), actor.staff_id
        scope.session.add(row)
        if recompute:
            recompute_recall(scope, row.patient_id, today)
    return row
