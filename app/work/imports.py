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
from app.storage.imports import (
    PatientImport,
    StagedFile,
    drop_staged,
)
from app.storage.practice_scope import PracticeScope
from app.work.actor import DESK, Actor, require
from app.work.imports_check import (
    ImportPlan,
    notations,
    orders_in_force,
    plan_import,
    two_digit_years,
)
from app.work.imports_columns import FIELD_BY_KEY, checked_columns, guessed_columns


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


def discard_import(scope: PracticeScope, actor: Actor, import_id: str) -> None:
    """The waiting file goes; nothing of it was imported."""
    require(actor, DESK, "import patients")
    row = _waiting(scope, import_id)
    drop_staged(scope, row.id)
    row.status = "discarded"
    scope.session.add(row)
