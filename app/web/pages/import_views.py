"""What the pages of an import show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from app.core.errors import FullcountError
from app.core.notation.dates import DayMonth, NotADate, read_date
from app.exchange.csv_encoding import ENCODINGS
from app.exchange.csv_reading import DELIMITERS
from app.storage.imports import ImportedRow, PatientImport
from app.web.formatting import counted, shown_date
from app.web.rendering import FieldError, View
from app.work.imports import StagedImport
from app.work.imports_check import BadRow, ImportPlan, RowPlan
from app.work.imports_columns import FIELD_BY_KEY, FIELDS

PREVIEWED = 6
SHOWN = 200
"""Rows of a list that a page shows; the rest stands in the file that can be downloaded, or is counted."""

ORDER_WORDS = {DayMonth.DAY_FIRST: "day first", DayMonth.MONTH_FIRST: "month first"}
STATUS = {"staged": "waits to be confirmed", "imported": "imported", "undone": "undone", "discarded": "discarded"}


@dataclass(frozen=True, kw_only=True)
class ImportLine:
    """An import in the list."""

    row: PatientImport
    status: str
    told: str


@dataclass(frozen=True, kw_only=True)
class ImportsView(View):
    """Every import, and the form that begins one."""

    imports: list[ImportLine]


@dataclass(frozen=True, kw_only=True)
class ColumnsView(View):
    """How the file was read, and which column is which."""

    row: PatientImport
    lines: int
    faulty: int
    encodings: list[tuple[str, str]]
    delimiters: list[tuple[str, str]]
    fields: list[tuple[str, str, str]]
    options: list[tuple[str, str]]
    values: dict[str, str]
    header: tuple[str, ...]
    preview: list[tuple[int, tuple[str, ...]]]
    again: str


@dataclass(frozen=True, kw_only=True)
class DateQuestion:
    """One column of dates; ``options`` show how an example reads either way."""

    key: str
    title: str
    hint: str
    options: list[tuple[str, str, str]]
    value: str


@dataclass(frozen=True, kw_only=True)
class DatesView(View):
    """The columns of dates that need an order."""

    row: PatientImport
    questions: list[DateQuestion]


@dataclass(frozen=True, kw_only=True)
class CheckView(View):
    """What importing would do."""

    row: PatientImport
    plan: ImportPlan
    dates_read: list[str]
    tally: list[tuple[int, str]]
    new: list[tuple[RowPlan, date]]
    changed: list[tuple[RowPlan, list[tuple[str, str, str]]]]
    bad: list[BadRow]
    asks_dates: bool


@dataclass(frozen=True, kw_only=True)
class DoneView(View):
    """What an import did, and what undoing it left."""

    row: PatientImport
    facts: list[tuple[str, str]]
    left: list[ImportedRow]
    can_undo: bool


def told_of(row: PatientImport) -> str:
    """What an import did, in a few words."""
    counts = row.counts
    if not counts:
        return ""
    told = (
        f"{counts['new']} new, {counts['changed']} changed, {counts['unchanged']} as before, {counts['bad']} bad"
    )
    return f"{told}; {counts['left']} left" if counts.get("left") else told


def columns_view(staged: StagedImport, again: str, **more: object) -> ColumnsView:
    """The page of the columns."""
    table, row = staged.table, staged.row
    examples = ["" for _ in table.header]
    for at in range(len(table.header)):
        examples[at] = next((r.fields[at].strip() for r in table.rows[:50] if r.fields[at].strip()), "")
    options = [
        (str(at), f"{name} ({examples[at][:30]})" if examples[at] else name)
        for at, name in enumerate(table.header)
    ]
    values = {field.key: str(staged.columns.get(field.key, "")) for field in FIELDS}
    return ColumnsView(
        heading=f"Columns of {row.file_name}",
        row=row,
        lines=len(table.rows),
        faulty=len(table.faults),
        encodings=list(ENCODINGS.items()),
        delimiters=[(sign, name) for sign, name in DELIMITERS.items()],
        fields=[(field.key, field.title, "needed" if field.needed else "") for field in FIELDS],
        options=[("", "not in the file"), *options],
        values=values,
        header=table.header,
        preview=[(r.line, tuple(_short(cell) for cell in r.fields)) for r in table.rows[:PREVIEWED]],
        again=again,
        **more,  # type: ignore[arg-type]
    )


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return f"{flat[:47]}…" if len(flat) > 48 else flat


def date_questions(staged: StagedImport, today: date) -> list[DateQuestion]:
    """The columns of dates for which day or month first makes a difference or was chosen."""
    questions = []
    for key, notation in staged.notations.items():
        at = notation.example if notation.example is not None else notation.deciding
        if at is None:
            continue
        text = staged.table.rows[at].fields[staged.columns[key]].strip()
        options = []
        for order in DayMonth:
            fit = notation.day_first if order is DayMonth.DAY_FIRST else notation.month_first
            options.append(
                (
                    order.value,
                    ORDER_WORDS[order].capitalize(),
                    f"{_reads(text, order, today)}; fits {counted(fit, 'date')}",
                )
            )
        chosen = staged.row.orders.get(key) or (notation.settled.value if notation.settled else "")
        line = staged.table.rows[at].line
        hint = f"Line {line} says {text}. " + (
            "The values do not tell which it is: please say."
            if notation.must_ask
            else "The values tell which it is."
        )
        questions.append(
            DateQuestion(key=key, title=FIELD_BY_KEY[key].title, hint=hint, options=options, value=str(chosen))
        )
    return questions


def _reads(text: str, order: DayMonth, today: date) -> str:
    try:
        return f"{text} is {shown_date(read_date(text, order, today=today))}"
    except NotADate:
        return f"{text} cannot be read so"


def dates_read(staged: StagedImport, today: date) -> list[str]:
    """How each column of dates was read, in words, with what settled it."""
    told = []
    for key, order in staged.orders.items():
        notation, title = staged.notations[key], FIELD_BY_KEY[key].title
        if order is not None and (notation.example is not None or notation.deciding is not None):
            at = notation.deciding
            if staged.row.orders.get(key):
                why = "as you chose"
            elif at is not None:
                cell = staged.table.rows[at]
                why = f"line {cell.line} says {cell.fields[staged.columns[key]].strip()}"
            else:
                why = "nothing differs"
            told.append(f"{title}: {ORDER_WORDS[order]} ({why}).")
        if key in staged.two_digit_years:
            this = f"{today.year % 100:02d}"
            told.append(
                f"{title}: {counted(staged.two_digit_years[key], 'year')} of two digits; "
                f"up to {this} read as 20…, after it as 19…."
            )
    return told


def _shown_change(key: str, old: str, new: str) -> tuple[str, str, str]:
    if key == "birth_date":
        old, new = (shown_date(date.fromisoformat(text)) for text in (old, new))
    return "Name" if key == "name" else FIELD_BY_KEY[key].title, old, new


def check_view(
    staged: StagedImport, plan: ImportPlan, today: date, errors: tuple[FieldError, ...] = ()
) -> CheckView:
    """The page that is confirmed."""
    return CheckView(
        heading=f"Check {staged.row.file_name}",
        errors=errors,
        row=staged.row,
        plan=plan,
        dates_read=dates_read(staged, today),
        tally=[
            (len(plan.new), "new patient" if len(plan.new) == 1 else "new patients"),
            (len(plan.changed), "patient changed" if len(plan.changed) == 1 else "patients changed"),
            (plan.unchanged, "as on record, nothing to do"),
            (plan.images, "images from elsewhere"),
            (len(plan.bad), "bad line, not imported" if len(plan.bad) == 1 else "bad lines, not imported"),
        ],
        new=[(row, date.fromisoformat(row.values["birth_date"])) for row in plan.new[:20]],
        changed=[(row, [_shown_change(*change) for change in row.changes]) for row in plan.changed[:SHOWN]],
        bad=plan.bad[:SHOWN],
        asks_dates=bool(date_questions(staged, today)),
    )


def done_view(row: PatientImport, rows: list[ImportedRow]) -> DoneView:
    """The page of an import that was done."""
    counts = row.counts
    if row.status not in ("imported", "undone"):
        raise FullcountError("This import was discarded. Hand the file in again to go on")
    facts = [
        ("New patients", str(counts["new"])),
        ("Patients changed", str(counts["changed"])),
        ("Lines that said what was known", str(counts["unchanged"])),
        ("Images from elsewhere recorded", str(counts["images"])),
        ("Bad lines, not imported", str(counts["bad"])),
    ]
    if row.status == "undone":
        facts += [
            ("Removed by the undo", str(counts["removed"])),
            ("Put back by the undo", str(counts["put_back"])),
            ("Left, because touched since", str(counts["left"])),
        ]
    return DoneView(
        heading=f"Import of {row.file_name}",
        row=row,
        facts=facts,
        left=[each for each in rows if each.outcome == "left"][:SHOWN],
        can_undo=row.status == "imported",
    )
