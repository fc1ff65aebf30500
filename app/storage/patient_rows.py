"""Every row of the database that is about one patient, found by walking the keys: also in tables added later."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from sqlalchemy import Table, or_, select
from sqlmodel import SQLModel, col
from sqlmodel import select as select_rows

from app.storage import every_table  # noqa: F401 - all tables must be known
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope

BY_EXPOSURE = ("exposure", "image_id", "image")
"""The one key that is walked from the row that holds it to the row it names: an image belongs to its exposures."""


def tables_about_patients() -> dict[str, list[tuple[str, str]]]:
    """The tables with a path to patient, and of each the columns that lead there with the table they name.

    A column ``patient_id`` leads there also where it is no key.
    """
    found: dict[str, list[tuple[str, str]]] = {"patient": []}
    grew = True
    while grew:
        grew = False
        for name, table in SQLModel.metadata.tables.items():
            leads = [
                (key.parent.name, key.column.table.name)
                for key in table.foreign_keys
                if key.column.table.name in found
            ]
            if "patient_id" in table.c and ("patient_id", "patient") not in leads:
                leads.append(("patient_id", "patient"))
            if name == BY_EXPOSURE[2] and BY_EXPOSURE[0] in found:
                leads.append(("id", BY_EXPOSURE[0]))
            if leads and sorted(leads) != sorted(found.get(name, [])):
                found[name] = leads
                grew = True
    return found


def records_of(scope: PracticeScope, patient_id: str) -> list[str]:
    """The patient's id, and the ids of the records that were merged into it."""
    query = select_rows(Patient.id).where(
        Patient.practice_id == scope.practice_id, col(Patient.merged_into) == patient_id
    )
    return [patient_id, *sorted(scope.session.exec(query))]


def rows_about(scope: PracticeScope, patient_id: str) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Table by table the rows about a patient, those of merged records included, each as plain values."""
    leads = tables_about_patients()
    ids: dict[str, set[str]] = {"patient": set(records_of(scope, patient_id))}
    images: set[str] = set()
    for table in SQLModel.metadata.sorted_tables:
        if table.name not in leads or table.name == BY_EXPOSURE[2]:
            continue
        rows = _rows(scope, table, leads[table.name], ids)
        ids[table.name] = {row["id"] for row in rows if "id" in row}
        if table.name == BY_EXPOSURE[0]:
            images = {row[BY_EXPOSURE[1]] for row in rows}
            image_table = SQLModel.metadata.tables[BY_EXPOSURE[2]]
            ids[image_table.name] = images
            yield image_table.name, _read(scope, image_table, image_table.c.id.in_(images))
        yield table.name, rows


def _rows(
    scope: PracticeScope, table: Table, leads: list[tuple[str, str]], ids: dict[str, set[str]]
) -> list[dict[str, Any]]:
    if table.name == "patient":
        return _read(scope, table, table.c.id.in_(ids["patient"]))
    # A key to the table itself adds nothing: its rows are found by the others.
    named = [(column, to) for column, to in leads if to != table.name and ids.get(to)]
    if not named:
        return []
    return _read(scope, table, or_(*(table.c[column].in_(ids[to]) for column, to in named)))


def _read(scope: PracticeScope, table: Table, condition: Any) -> list[dict[str, Any]]:
    query = (
        select(table)
        .where(table.c.practice_id == scope.practice_id, condition)
        .order_by(*table.primary_key.columns)
    )
    return [
        {name: plain_value(value) for name, value in row.items()}
        for row in scope.session.execute(query).mappings()
    ]


def plain_value(value: Any) -> Any:
    """A value as JSON holds it; bytes in base64."""
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    return value
