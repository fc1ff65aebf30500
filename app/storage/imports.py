"""Imports of patients: the file while it waits, what each import did row by row, and reading and writing in bulk.

Twenty thousand patients are a few statements here, not twenty thousand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint, LargeBinary, delete, insert, select, update
from sqlmodel import Field, SQLModel, col

from app.storage.columns import Row, json_field, moment_field, moment_or_none, new_id, now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import OutsideImages

CHUNK = 5000
"""Values in one statement; SQLite takes 32766."""


class PatientImport(Row, table=True):
    """One file of patients, from the moment it was handed in."""

    __tablename__ = "patient_import"
    __table_args__ = (
        CheckConstraint("status in ('staged', 'imported', 'undone', 'discarded')", name="status_known"),
    )

    file_name: str
    sha256: str = Field(index=True, max_length=64)
    status: str = Field(default="staged", index=True)
    encoding: str
    delimiter: str
    has_header: bool = True
    columns: dict[str, Any] = json_field(dict)
    orders: dict[str, Any] = json_field(dict)
    counts: dict[str, Any] = json_field(dict)
    staged_by: str = Field(foreign_key="staff.id")
    staged_at: datetime = moment_field()
    imported_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    imported_at: datetime | None = moment_or_none()
    imported_on: date | None = Field(default=None, nullable=True, description="day by which ages were counted")
    undone_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    undone_at: datetime | None = moment_or_none()


class StagedFile(Row, table=True):
    """The bytes of a file that waits to be confirmed; gone when it is imported or discarded."""

    __tablename__ = "staged_file"

    import_id: str = Field(foreign_key="patient_import.id", index=True)
    data: bytes = Field(sa_type=LargeBinary, nullable=False)


class ImportedRow(Row, table=True):
    """What an import did with one patient, so that it can be undone."""

    __tablename__ = "imported_row"
    __table_args__ = (
        CheckConstraint("kind in ('new', 'changed')", name="kind_known"),
        CheckConstraint("outcome in ('', 'removed', 'put_back', 'left')", name="outcome_known"),
    )

    import_id: str = Field(foreign_key="patient_import.id", index=True)
    line: int
    patient_id: str | None = Field(default=None, foreign_key="patient.id", index=True, nullable=True)
    chart_number: str
    kind: str = Field(description="new or changed")
    before: dict[str, Any] = json_field(dict)
    after: dict[str, Any] = json_field(dict)
    outcome: str = Field(default="", description="of the undo: removed, put_back or left")
    reason: str = Field(default="", description="why it was left")


def in_chunks(values: Iterable[str]) -> Iterator[list[str]]:
    """The values in portions that one statement can take."""
    listed = list(values)
    for at in range(0, len(listed), CHUNK):
        yield listed[at : at + CHUNK]


def patients_by_chart_number(scope: PracticeScope, numbers: Iterable[str]) -> dict[str, Patient]:
    """The practice's patients with these chart numbers; the staying record where one was merged into another."""
    found: dict[str, Patient] = {}
    for some in in_chunks(numbers):
        for patient in scope.all(scope.select(Patient).where(col(Patient.chart_number).in_(some))):
            kept = scope.find(Patient, patient.merged_into)
            found[patient.chart_number] = patient if kept is None else kept
    return found


def patients_by_id(scope: PracticeScope, ids: Iterable[str]) -> dict[str, Patient]:
    """The practice's patients with these ids."""
    found: dict[str, Patient] = {}
    for some in in_chunks(ids):
        found.update({each.id: each for each in scope.all(scope.select(Patient).where(col(Patient.id).in_(some)))})
    return found


def outside_images_known(scope: PracticeScope, patient_ids: Iterable[str]) -> set[tuple[str, str, date]]:
    """Patient, kind and day of the images from elsewhere that stand on record."""
    found: set[tuple[str, str, date]] = set()
    for some in in_chunks(patient_ids):
        query = scope.select(OutsideImages).where(
            col(OutsideImages.patient_id).in_(some), col(OutsideImages.withdrawn_at).is_(None)
        )
        found.update((each.patient_id, each.kind, each.taken_on) for each in scope.all(query))
    return found


def insert_many(scope: PracticeScope, table: type[Row], rows: Sequence[dict[str, Any]]) -> None:
    """Put new rows of one table into the practice in as few statements as can be.

    Parameters
    ----------
    rows : every one with the same columns; the others get their defaults, each row its own id where it has none
    """
    if not rows:
        return
    usual = {key: value for key, value in table(**rows[0]).model_dump().items() if key not in rows[0]}
    usual["practice_id"] = scope.practice_id
    written = [usual | row if "id" in row else usual | {"id": new_id()} | row for row in rows]
    scope.session.flush()
    scope.session.execute(insert(_core(table)), written)


def rows_of(scope: PracticeScope, import_id: str) -> Sequence[ImportedRow]:
    """What an import did, by line."""
    query = scope.select(ImportedRow).where(ImportedRow.import_id == import_id)
    return scope.all(query.order_by(col(ImportedRow.line)))


def drop_staged(scope: PracticeScope, import_id: str) -> None:
    """The waiting bytes go."""
    table = _core(StagedFile)
    scope.session.execute(
        delete(table).where(table.c.practice_id == scope.practice_id, table.c.import_id == import_id)
    )


def touched_tables(scope: PracticeScope, import_id: str, *, derived: frozenset[str]) -> dict[str, set[str]]:
    """For each patient of an import, the tables in which somebody has since put something for them.

    Every table that points to a patient is looked into, also those that will be added later.

    Parameters
    ----------
    derived : tables whose rows are worked out by the program itself
    """
    ours = _core(ImportedRow)
    patients = select(ours.c.patient_id).where(
        ours.c.practice_id == scope.practice_id, ours.c.import_id == import_id, ours.c.patient_id.is_not(None)
    )
    found: dict[str, set[str]] = {}
    for name, table in SQLModel.metadata.tables.items():
        for key in table.foreign_keys:
            if key.column.table.name != "patient" or name in derived:
                continue
            query = select(key.parent).where(key.parent.in_(patients)).distinct()
            if "import_id" in table.c:
                query = query.where(table.c.import_id != import_id)
            for (patient_id,) in scope.session.execute(query):
                found.setdefault(patient_id, set()).add(name)
    return found


def withdraw_images(scope: PracticeScope, import_id: str, patient_ids: Iterable[str], staff_id: str) -> None:
    """The images that an import put on record for these patients are withdrawn (they stay, and do not count)."""
    table = _core(OutsideImages)
    for some in in_chunks(patient_ids):
        scope.session.execute(
            update(table)
            .where(
                table.c.practice_id == scope.practice_id,
                table.c.import_id == import_id,
                table.c.withdrawn_at.is_(None),
                table.c.patient_id.in_(some),
            )
            .values(withdrawn_at=now(), withdrawn_by=staff_id)
        )


def remove_patients(scope: PracticeScope, patient_ids: Iterable[str], *, with_rows_of: Sequence[str]) -> None:
    """Patients go, with their rows of the named tables; a row anywhere else makes the database refuse it."""
    for some in in_chunks(patient_ids):
        for name in with_rows_of:
            table = SQLModel.metadata.tables[name]
            for key in table.foreign_keys:
                if key.column.table.name == "patient":
                    scope.session.execute(
                        delete(table).where(table.c.practice_id == scope.practice_id, key.parent.in_(some))
                    )
        rows, patients = _core(ImportedRow), _core(Patient)
        scope.session.execute(
            update(rows)
            .where(rows.c.practice_id == scope.practice_id, rows.c.patient_id.in_(some))
            .values(patient_id=None)
        )
        scope.session.execute(
            delete(patients).where(patients.c.practice_id == scope.practice_id, patients.c.id.in_(some))
        )


def _core(table: type[Row]) -> Any:
    """The table itself: statements on it are not narrowed, so each names the practice."""
    return SQLModel.metadata.tables[str(table.__tablename__)]
