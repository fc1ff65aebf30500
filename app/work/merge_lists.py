"""Merges as they are read: of a patient, and one with what was made since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlmodel import SQLModel, col

from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import PatientMerge
from app.work.actor import DESK, TEAM, Actor, require
from app.work.merge_keys import DAYS, MOVES
from app.work.merges import key_of, made_since
from app.work.staff_names import staff_names


@dataclass(frozen=True, kw_only=True)
class RowSince:
    """A row made on the staying record since the merge, with its day where it has one."""

    name: str
    id: str
    words: str
    day: date | None


@dataclass(frozen=True, kw_only=True)
class MergeAccount:
    """One merge with both records.

    Parameters
    ----------
    moved : how many rows of each kind went over, by its words
    since : what was made on the staying record since; empty once the merge is undone
    """

    merge: PatientMerge
    kept: Patient
    merged: Patient
    merged_by: str
    undone_by: str
    moved: dict[str, int]
    since: list[RowSince]


def merges_of_patient(scope: PracticeScope, actor: Actor, patient_id: str) -> Sequence[PatientMerge]:
    """The merges in which a patient's record took part, the newest first."""
    require(actor, TEAM, "see which records were merged")
    query = scope.select(PatientMerge).where(
        or_(col(PatientMerge.kept_id) == patient_id, col(PatientMerge.merged_id) == patient_id)
    )
    return scope.all(query.order_by(col(PatientMerge.merged_at).desc()))


def merge_account(scope: PracticeScope, actor: Actor, merge_id: str) -> MergeAccount:
    """One merge, with what can be put back and what was made since."""
    require(actor, DESK, "look at merges")
    row = scope.get(PatientMerge, merge_id, "merge")
    kept, merged = scope.find(Patient, row.kept_id), scope.find(Patient, row.merged_id)
    assert kept is not None
    assert merged is not None
    staff = staff_names(scope)
    moved: dict[str, int] = {}
    for name, ids in row.moved.items():
        if ids:
            words = MOVES.get(key_of(name), key_of(name)[0].replace("_", " "))
            moved[words] = moved.get(words, 0) + len(ids)
    return MergeAccount(
        merge=row,
        kept=kept,
        merged=merged,
        merged_by=staff.get(row.merged_by, ""),
        undone_by=staff.get(row.undone_by or "", ""),
        moved=moved,
        since=_since(scope, row) if row.undone_at is None else [],
    )


def _since(scope: PracticeScope, row: PatientMerge) -> list[RowSince]:
    found = []
    for name, ids in made_since(scope, row).items():
        key = key_of(name)
        days = _days(scope, key[0], ids)
        words = MOVES.get(key, key[0].replace("_", " "))
        found += [RowSince(name=name, id=each, words=words, day=days.get(each)) for each in ids]
    return found


def _days(scope: PracticeScope, table_name: str, ids: Sequence[str]) -> dict[str, date]:
    column = DAYS.get(table_name)
    if column is None:
        return {}
    table = SQLModel.metadata.tables[table_name]
    query = select(table.c.id, table.c[column]).where(
        table.c.practice_id == scope.practice_id, table.c.id.in_(ids)
    )
    return {
        row_id: value.astimezone().date() if isinstance(value, datetime) else value
        for row_id, value in scope.session.execute(query)
    }
