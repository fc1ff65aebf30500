"""Patients as they stand: without records merged into another, and without those that were erased."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import col, func, select
from sqlmodel.sql.expression import SelectOfScalar

from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope


def on_record(scope: PracticeScope) -> SelectOfScalar[Patient]:
    """A query over the patients who stand on record."""
    return scope.select(Patient).where(col(Patient.merged_into).is_(None), col(Patient.erased_at).is_(None))


def goes_on_as(scope: PracticeScope, patient: Patient) -> Patient:
    """The record that a patient's goes on in: itself, or the one that it was merged into."""
    kept = scope.find(Patient, patient.merged_into)
    return patient if kept is None else kept


def born_alike(scope: PracticeScope) -> list[Sequence[Patient]]:
    """The patients on record who share their birth date with another, by birth date."""
    same = (
        select(col(Patient.birth_date))
        .where(
            Patient.practice_id == scope.practice_id,
            col(Patient.merged_into).is_(None),
            col(Patient.erased_at).is_(None),
        )
        .group_by(col(Patient.birth_date))
        .having(func.count() > 1)
    )
    query = on_record(scope).where(col(Patient.birth_date).in_(same))
    groups: dict[object, list[Patient]] = {}
    for each in scope.all(query.order_by(col(Patient.birth_date), col(Patient.created_at), col(Patient.id))):
        groups.setdefault(each.birth_date, []).append(each)
    return list(groups.values())
