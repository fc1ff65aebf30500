"""Every column of the database that points to a patient, and the rows behind it; also of tables added later."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import select, update
from sqlmodel import SQLModel

from app.storage import every_table  # noqa: F401 - all tables must be known
from app.storage.imports import in_chunks
from app.storage.practice_scope import PracticeScope

Key = tuple[str, str]
"""A table and its column."""


def patient_keys() -> list[Key]:
    """The columns that point to a patient, by table."""
    return sorted(
        (name, key.parent.name)
        for name, table in SQLModel.metadata.tables.items()
        for key in table.foreign_keys
        if key.column.table.name == "patient"
    )


def rows_pointing(scope: PracticeScope, key: Key, patient_id: str) -> list[str]:
    """The ids of the practice's rows whose column points to the patient."""
    table, column = _of(key)
    query = select(table.c.id).where(table.c.practice_id == scope.practice_id, column == patient_id)
    return sorted(scope.session.scalars(query))


def point_to(scope: PracticeScope, key: Key, ids: Iterable[str], *, away_from: str, to: str) -> list[str]:
    """Let rows point to another patient.

    Returns
    -------
    list
        The ids of the rows that did: those that point elsewhere by now, or are gone, are left alone.
    """
    table, column = _of(key)
    still = set(rows_pointing(scope, key, away_from))
    moved = [each for each in ids if each in still]
    for some in in_chunks(moved):
        scope.session.execute(
            update(table)
            .where(table.c.practice_id == scope.practice_id, table.c.id.in_(some))
            .values({column.name: to})
        )
    return moved


def _of(key: Key) -> tuple[Any, Any]:
    table = SQLModel.metadata.tables[key[0]]
    return table, table.c[key[1]]
