"""Importing patients: a file is handed in, looked at, confirmed, and only then imported, in one transaction."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import PurePath
from typing import Any

from sqlmodel import col

from app.core.errors import FullcountError, InputError
from app.core.notation.dates import ColumnNotation, DayMonth
from app.exchange.csv_reading import CsvTable, read_csv
from app.storage.columns import new_id, now
from app.storage.imports import (
    ImportedRow,
    PatientImport,
    StagedFile,
    drop_staged,
    insert_many,
)
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import OutsideImages
from app.work.actor import DESK, Actor, require
from app.work.charts import put_chart, usual_chart
from app.work.imports_check import (
    ImportPlan,
    RowPlan,
    notations,
    orders_in_force,
    plan_import,
    two_digit_years,
)
from app.work.imports_columns import FIELD_BY_KEY, checked_columns, guessed_columns
from app.work.patients import folded
from app.work.recall_recompute import recompute_many

ORIGIN = "imported list"


@dataclass(frozen=True, kw_only=True)
class StagedImport:
    """An import that waits, with its file as it is read now.

    Parameters
    ----------
    columns : the person's choice, or the likely ones before there is a choice
    chosen : whether a person has confirmed the columns
    notations : of each column of dates
    orders : in force for each column of dates
    questions : columns of dates whose order must be asked
    """

    row: PatientImport
    table: CsvTable
    columns: dict[str, int]
    chosen: bool
    notations: dict[str, ColumnNotation]
    orders: dict[str, DayMonth | None]
    questions: list[str]
    two_digit_years: dict[str, int]


def imports_of(scope: PracticeScope) -> Sequence[PatientImport]:
    """Every import that was not discarded, the newest first."""
    query = scope.select(PatientImport).where(PatientImport.status != "discarded")
    return scope.all(query.order_by(col(PatientImport.staged_at).desc()).limit(200))


def stage_file(scope: PracticeScope, actor: Actor, *, data: bytes, file_name: str) -> PatientImport:
    """Take a file in; nothing of it is imported yet.

    Raises
    ------
    InputError
        At ``file``: it is no table that can be read.
    """
    require(actor, DESK, "import patients")
    table = _read_somehow(data)
    name = PurePath(file_name.replace("\\", "/")).name
    row = PatientImport(
        file_name="".join(letter for letter in name if letter.isprintable())[:120] or "file.csv",
        sha256=hashlib.sha256(data).hexdigest(),
        encoding=table.encoding,
        delimiter=table.delimiter,
        staged_by=actor.staff_id,
    )
    scope.add(row)
    scope.add(StagedFile(import_id=row.id, data=data))
    return row


def _read_somehow(data: bytes) -> CsvTable:
    """What can be found out of itself; a file in an unlikely encoding is let in, to be chosen by the person."""
    try:
        return read_csv(data)
    except InputError as error:
        if error.path != "encoding":
            raise
        return read_csv(data, encoding="cp850")


def staged_import(scope: PracticeScope, actor: Actor, import_id: str, *, today: date) -> StagedImport:
    """The waiting import with its file read as was chosen.

    Raises
    ------
    InputError
        At ``encoding``, ``delimiter`` or ``file``: it cannot be read as was chosen.
    """
    require(actor, DESK, "import patients")
    row = _waiting(scope, import_id)
    return _as_read(row, _table(scope, row), today)


def _as_read(row: PatientImport, table: CsvTable, today: date) -> StagedImport:
    columns = {key: int(at) for key, at in row.columns.items()} or guessed_columns(table.header)
    columns = {key: at for key, at in columns.items() if at < len(table.header)}
    found = notations(table, columns, today=today)
    orders, questions = orders_in_force(found, row.orders)
    return StagedImport(
        row=row,
        table=table,
        columns=columns,
        chosen=bool(row.columns),
        notations=found,
        orders=orders,
        questions=questions,
        two_digit_years=two_digit_years(table, columns),
    )


def _waiting(scope: PracticeScope, import_id: str) -> PatientImport:
    row = scope.get(PatientImport, import_id, "import")
    if row.status != "staged":
        raise FullcountError(f'The file "{row.file_name}" is {row.status} already. Hand it in again to go on')
    return row


def _table(scope: PracticeScope, row: PatientImport) -> CsvTable:
    staged = scope.first(scope.select(StagedFile).where(StagedFile.import_id == row.id))
    if staged is None:
        raise FullcountError(f'The file "{row.file_name}" is not here any more. Hand it in again')
    return read_csv(staged.data, encoding=row.encoding, delimiter=row.delimiter, has_header=row.has_header)


def choose_reading(
    scope: PracticeScope, actor: Actor, import_id: str, *, encoding: str, delimiter: str, has_header: bool
) -> None:
    """Have the file read otherwise; columns chosen before are forgotten, they may be others now."""
    require(actor, DESK, "import patients")
    row = _waiting(scope, import_id)
    row.encoding, row.delimiter, row.has_header = encoding, delimiter, has_header
    row.columns, row.orders = {}, {}
    table = _table(scope, row)
    row.encoding, row.delimiter = table.encoding, table.delimiter
    scope.session.add(row)


def choose_columns(
    scope: PracticeScope, actor: Actor, import_id: str, *, columns: dict[str, Any], today: date
) -> list[str]:
    """Say which column is which.

    Returns
    -------
    list of str
        Fields whose order of day and month must be asked now.

    Raises
    ------
    InputError
        At the field.
    """
    require(actor, DESK, "import patients")
    row = _waiting(scope, import_id)
    table = _table(scope, row)
    clean = checked_columns(columns, table)
    # An order chosen for a column holds only as long as the field stays with that column.
    row.orders = {key: order for key, order in row.orders.items() if row.columns.get(key) == clean.get(key)}
    row.columns = dict(clean)
    scope.session.add(row)
    return _as_read(row, table, today).questions


def choose_orders(
    scope: PracticeScope, actor: Actor, import_id: str, *, orders: dict[str, str], today: date
) -> None:
    """Say which of day and month stands first in each column of dates.

    Raises
    ------
    InputError
        At the field: no choice where one is needed, or none that is known.
    """
    require(actor, DESK, "import patients")
    staged = _as_read(row := _waiting(scope, import_id), _table(scope, row), today)
    clean: dict[str, str] = {}
    for key, notation in staged.notations.items():
        given = orders.get(key, "")
        if given in set(DayMonth):
            clean[key] = given
        elif given or notation.must_ask:
            raise InputError(key, f"choose how the dates of {FIELD_BY_KEY[key].title.lower()} are written")
    row.orders = clean
    scope.session.add(row)


def plan_of(scope: PracticeScope, actor: Actor, import_id: str, *, today: date) -> tuple[StagedImport, ImportPlan]:
    """What confirming the import would do now.

    Raises
    ------
    InputError
        At a field: the columns are not chosen, or a column of dates must be asked for first.
    """
    staged = staged_import(scope, actor, import_id, today=today)
    checked_columns(dict(staged.row.columns), staged.table)
    for key in staged.questions:
        raise InputError(key, f"choose how the dates of {FIELD_BY_KEY[key].title.lower()} are written")
    return staged, plan_import(scope, staged.table, staged.columns, staged.orders, today=today)


class PlanChanged(FullcountError):
    """Since the page was shown, somebody changed patients that the file is about."""


def confirm_import(
    scope: PracticeScope, actor: Actor, import_id: str, *, fingerprint: str, today: date
) -> PatientImport:
    """Import what was shown, all of it or nothing.

    Parameters
    ----------
    fingerprint : of the plan that the person saw

    Raises
    ------
    PlanChanged
        Importing would now do something else.
    """
    staged, plan = plan_of(scope, actor, import_id, today=today)
    row = staged.row
    if plan.fingerprint != fingerprint:
        raise PlanChanged("Patients have changed since this page was shown. Look through it once more")
    if not plan.new and not plan.changed:
        raise InputError("", "there is nothing to import: every good line says what is on record already")
    done = [_new_patient(scope, plan.new, row, today), _changed_patients(scope, plan.changed, row)]
    images = [
        OutsideImages(
            patient_id=patient_id,
            kind=kind,
            taken_on=day,
            origin=ORIGIN,
            import_id=row.id,
            recorded_by=actor.staff_id,
        )
        for patient_id, planned in (pair for pairs in done for pair in pairs)
        for kind, day in planned.images
    ]
    insert_many(scope, OutsideImages, images)
    drop_staged(scope, row.id)
    row.status, row.imported_by, row.imported_at, row.imported_on = "imported", actor.staff_id, now(), today
    row.counts = {
        "new": len(plan.new),
        "changed": len(plan.changed),
        "unchanged": plan.unchanged,
        "bad": len(plan.bad),
        "images": len(images),
    }
    scope.session.add(row)
    scope.session.flush()
    recompute_many(scope, [patient_id for pairs in done for patient_id, _ in pairs], today)
    return row


Pairs = list[tuple[str, RowPlan]]


def _new_patient(scope: PracticeScope, plans: list[RowPlan], row: PatientImport, today: date) -> Pairs:
    """Put the new patients in, each with the chart that is usual for the age."""
    patients, journal = [], []
    charts: dict[object, Patient] = {}
    for plan in plans:
        born = date.fromisoformat(plan.values["birth_date"])
        patient = Patient(
            id=new_id(),
            chart_number=plan.chart_number,
            sought_as=folded(f"{plan.values['name']} {plan.chart_number}"),
            **(plan.values | {"birth_date": born}),  # type: ignore[arg-type]
        )
        age = today.year - born.year - ((today.month, today.day) < (born.month, born.day))
        if age not in charts:
            put_chart(patient, usual_chart(born, today))
            charts[age] = patient
        else:
            for key in ("dentition_kind", "states", "roots", "closed_spaces"):
                setattr(patient, key, getattr(charts[age], key))
        patients.append(patient)
        journal.append(
            ImportedRow(
                import_id=row.id,
                line=plan.line,
                patient_id=patient.id,
                chart_number=plan.chart_number,
                kind="new",
                after=dict(plan.values),
            )
        )
    insert_many(scope, Patient, patients)
    insert_many(scope, ImportedRow, journal)
    return [(patient.id, plan) for patient, plan in zip(patients, plans, strict=True)]


def _changed_patients(scope: PracticeScope, plans: list[RowPlan], row: PatientImport) -> Pairs:
    """Change what differs, and keep what stood there before."""
    pairs, journal = [], []
    for plan in plans:
        patient = plan.patient
        assert patient is not None
        changes = plan.changes
        for key, _, value in changes:
            setattr(patient, key, date.fromisoformat(value) if key == "birth_date" else value)
        patient.sought_as = folded(f"{patient.name} {patient.chart_number}")
        scope.session.add(patient)
        pairs.append((patient.id, plan))
        journal.append(
            ImportedRow(
                import_id=row.id,
                line=plan.line,
                patient_id=patient.id,
                chart_number=plan.chart_number,
                kind="changed",
                before={key: old for key, old, _ in changes},
                after={key: value for key, _, value in changes},
            )
        )
    insert_many(scope, ImportedRow, journal)
    return pairs


def discard_import(scope: PracticeScope, actor: Actor, import_id: str) -> None:
    """The waiting file goes; nothing of it was imported."""
    require(actor, DESK, "import patients")
    row = _waiting(scope, import_id)
    drop_staged(scope, row.id)
    row.status = "discarded"
    scope.session.add(row)
