"""Who is calling whom: a claimed patient is called by one person only, until released or ten minutes are over."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import or_, update
from sqlmodel import col

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.people import Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work.actor import TEAM, Actor, require

CLAIM_MINUTES = 10
"""How long a claim holds if nobody releases it, minutes."""


def holds_at(item: RecallItem, moment: datetime) -> bool:
    """Whether somebody's claim on the line still holds."""
    if item.claimed_by is None or item.claimed_at is None:
        return False
    return moment < item.claimed_at + timedelta(minutes=CLAIM_MINUTES)


def claim(scope: PracticeScope, actor: Actor, patient_id: str, at: datetime | None = None) -> None:
    """Take a patient to call; taking again what is one's own makes it last longer.

    Raises
    ------
    InputError
        Somebody else is calling this patient: who, and since when.
    """
    require(actor, TEAM, "call patients")
    patient = scope.get(Patient, patient_id, "patient")
    moment = at or now()
    free = or_(
        col(RecallItem.claimed_by).is_(None),
        col(RecallItem.claimed_by) == actor.staff_id,
        col(RecallItem.claimed_at) <= moment - timedelta(minutes=CLAIM_MINUTES),
    )
    # One statement, so that of two who ask at once only one finds the row free, on any database.
    taken = scope.session.execute(
        update(RecallItem)
        .where(col(RecallItem.practice_id) == scope.practice_id, col(RecallItem.patient_id) == patient.id, free)
        .values(claimed_by=actor.staff_id, claimed_at=moment)
        .execution_options(synchronize_session=False)
        .returning(col(RecallItem.id))
    ).all()
    if taken:
        return
    other = scope.first(scope.select(RecallItem).where(RecallItem.patient_id == patient.id))
    if other is None:
        raise InputError("", f"{patient.name} has no line in the recall list yet. Bring the list up to date first")
    person = scope.find(Staff, other.claimed_by)
    name = person.name if person is not None else "a colleague"
    raise InputError("", f"{name} is calling {patient.name} at this moment. Take the next one on the list")


def release(scope: PracticeScope, actor: Actor, patient_id: str) -> None:
    """Give a patient back whom one has claimed; a claim of somebody else stays."""
    require(actor, TEAM, "call patients")
    patient = scope.get(Patient, patient_id, "patient")
    scope.session.execute(
        update(RecallItem)
        .where(
            col(RecallItem.practice_id) == scope.practice_id,
            col(RecallItem.patient_id) == patient.id,
            col(RecallItem.claimed_by) == actor.staff_id,
        )
        .values(claimed_by=None, claimed_at=None)
    )
