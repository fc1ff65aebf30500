"""What importing a file would do, row by row, before anything is done."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from app.core.errors import InputError
from app.core.notation.dates import ColumnNotation, DayMonth, NotADate, checked_day, is_two_digit_year, notation_of
from app.core.notation.formulas import could_run
from app.exchange.csv_reading import CsvRow, CsvTable
from app.storage.imports import outside_images_known, patients_by_chart_number
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.work.imports_columns import FIELD_BY_KEY, FIELDS, IMAGE_KINDS
from app.work.text import checked_line

KEPT = ("name", "birth_date", "phone", "email", "preferred_contact")
"""Fields of a patient that an import can change; the chart number tells who it is."""

_JUST_A_NUMBER = re.compile(r"[+-][\d\s().\-/]*\d")
_NOTHING = frozenset("-–—/") | {"--"}
"""What people write into a cell that has nothing to say."""

WAYS = {
    **dict.fromkeys(("phone", "telephone", "tel", "call", "mobile", "cell", "sms", "text"), "phone"),
    **dict.fromkeys(("email", "e-mail"), "email"),
    **dict.fromkeys(("letter", "post"), "letter"),
}
"""How files write the preferred contact."""


@dataclass(frozen=True, kw_only=True)
class BadRow:
    """A line that would not be imported; ``field`` in words, empty where it is the whole line."""

    line: int
    field: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class RowPlan:
    """What would become of one good line.

    Parameters
    ----------
    patient : who has the chart number now; None for a new patient
    values : what the line says of the fields in `KEPT`, as text; a field that it leaves empty is not in it
    images : kinds and days that would go on record as images from elsewhere
    """

    line: int
    chart_number: str
    patient: Patient | None
    values: dict[str, str]
    images: tuple[tuple[str, date], ...]

    @property
    def changes(self) -> list[tuple[str, str, str]]:
        """Field, what stands there now, and what the file says, where they differ."""
        if self.patient is None:
            return []
        now = {key: str(getattr(self.patient, key)) for key in self.values}
        return [(key, now[key], value) for key, value in self.values.items() if now[key] != value]


@dataclass(frozen=True, kw_only=True)
class ImportPlan:
    """What importing would do."""

    new: list[RowPlan]
    changed: list[RowPlan]
    unchanged: int
    bad: list[BadRow]

    @property
    def images(self) -> int:
        """How many images from elsewhere would go on record."""
        return sum(len(row.images) for row in (*self.new, *self.changed))

    @property
    def fingerprint(self) -> str:
        """The same for the same plan: what a person confirmed is what is done."""
        told = [(row.chart_number, sorted(row.values.items()), row.images) for row in self.new]
        told_changes = [(row.chart_number, row.changes, row.images) for row in self.changed]
        return hashlib.sha256(repr((told, told_changes)).encode()).hexdigest()


def notations(table: CsvTable, columns: Mapping[str, int], *, today: date) -> dict[str, ColumnNotation]:
    """For each chosen column of dates, what its values say of the order of day and month."""
    return {
        field.key: notation_of([row.fields[columns[field.key]] for row in table.rows], today=today)
        for field in FIELDS
        if field.is_day and field.key in columns
    }


def orders_in_force(
    found: Mapping[str, ColumnNotation], chosen: Mapping[str, str]
) -> tuple[dict[str, DayMonth | None], list[str]]:
    """The order of each column of dates, a person's choice first; and the columns that must be asked for."""
    orders: dict[str, DayMonth | None] = {}
    open_questions = []
    for key, notation in found.items():
        orders[key] = DayMonth(chosen[key]) if chosen.get(key) in set(DayMonth) else notation.settled
        if orders[key] is None and notation.must_ask:
            open_questions.append(key)
    return orders, open_questions


def two_digit_years(table: CsvTable, columns: Mapping[str, int]) -> dict[str, int]:
    """How many values of each column of dates have a year of two digits."""
    days = [field.key for field in FIELDS if field.is_day and field.key in columns]
    counts = {key: sum(is_two_digit_year(row.fields[columns[key]]) for row in table.rows) for key in days}
    return {key: count for key, count in counts.items() if count}


def plan_import(
    scope: PracticeScope,
    table: CsvTable,
    columns: Mapping[str, int],
    orders: Mapping[str, DayMonth | None],
    *,
    today: date,
) -> ImportPlan:
    """What importing the table would do, against the practice as it is now."""
    bad = [
        BadRow(
            line=each.line,
            field=table.header[each.field - 1] if 0 < each.field <= len(table.header) else "",
            reason=each.reason,
        )
        for each in table.faults
    ]
    good: dict[str, tuple[CsvRow, dict[str, str]]] = {}
    for row in table.rows:
        try:
            values = _read_row(row, columns, orders, today)
            number = values["chart_number"]
            if number in good:
                line = good[number][0].line
                raise InputError("chart_number", f'"{number}" stands in line {line} too. Keep one of the two')
            good[number] = (row, values)
        except InputError as error:
            at = columns.get(error.path)
            field = table.header[at] if at is not None else FIELD_BY_KEY[error.path].title
            bad.append(BadRow(line=row.line, field=field, reason=error.message))
    new, changed, unchanged = _against_known(scope, good)
    bad.sort(key=lambda each: each.line)
    return ImportPlan(new=new, changed=changed, unchanged=unchanged, bad=bad)


def _against_known(
    scope: PracticeScope, good: dict[str, tuple[CsvRow, dict[str, str]]]
) -> tuple[list[RowPlan], list[RowPlan], int]:
    known = patients_by_chart_number(scope, good)
    on_record = outside_images_known(scope, (patient.id for patient in known.values()))
    new, changed, unchanged = [], [], 0
    for number, (row, values) in good.items():
        patient = known.get(number)
        images = tuple(
            (kind, date.fromisoformat(values[key]))
            for key, kind in IMAGE_KINDS.items()
            if key in values
            and (patient is None or (patient.id, kind, date.fromisoformat(values[key])) not in on_record)
        )
        kept = {key: values[key] for key in KEPT if key in values}
        planned = RowPlan(line=row.line, chart_number=number, patient=patient, values=kept, images=images)
        if patient is None:
            new.append(planned)
        elif planned.changes or images:
            changed.append(planned)
        else:
            unchanged += 1
    return new, changed, unchanged


def _read_row(
    row: CsvRow, columns: Mapping[str, int], orders: Mapping[str, DayMonth | None], today: date
) -> dict[str, str]:
    """What the line says, checked; what it leaves empty is not in it."""
    texts = {key: " ".join(row.fields[at].split()) for key, at in columns.items()}
    texts = {key: "" if text in _NOTHING else text for key, text in texts.items()}
    for key, text in texts.items():
        if could_run(text) and not _JUST_A_NUMBER.fullmatch(text):
            raise InputError(key, f'"{text[:60]}" begins like a spreadsheet formula. Put the value in its place')
    values = {
        "chart_number": checked_line(texts["chart_number"], "chart_number", longest=40),
        "name": _name(texts),
    }
    if not texts["birth_date"]:
        raise InputError("birth_date", "this is empty. Fill it in")
    for field in FIELDS:
        if field.is_day and texts.get(field.key):
            day = _day(texts[field.key], field.key, orders.get(field.key), today)
            values[field.key] = day.isoformat()
    for key in IMAGE_KINDS:
        if values.get(key, values["birth_date"]) < values["birth_date"]:
            raise InputError(key, f'"{texts[key]}" is before the birth date. Correct one of the two')
    values |= _contact(texts)
    return values


def _name(texts: dict[str, str]) -> str:
    if "name" in texts:
        return checked_line(texts["name"], "name")
    parts = [texts[key] for key in ("given_name", "family_name") if texts.get(key)]
    return checked_line(" ".join(parts), "family_name" if "family_name" in texts else "given_name")


def _day(text: str, key: str, order: DayMonth | None, today: date) -> date:
    what = "the birth date" if key == "birth_date" else "the day"
    try:
        return checked_day(text, order, today=today, what=what)
    except NotADate as error:
        raise InputError(key, str(error)) from error


def _contact(texts: dict[str, str]) -> dict[str, str]:
    values = {}
    if texts.get("phone"):
        values["phone"] = checked_line(texts["phone"], "phone", longest=40)
    if texts.get("email"):
        values["email"] = checked_line(texts["email"], "email", longest=254)
        if "@" not in values["email"]:
            raise InputError("email", f'"{texts["email"]}" is not an address. Write it like name@example.org')
    way = texts.get("preferred_contact", "")
    if way:
        if way.lower() not in WAYS:
            raise InputError("preferred_contact", f'"{way}" is not known. Write phone, email or letter')
        values["preferred_contact"] = WAYS[way.lower()]
    return values
