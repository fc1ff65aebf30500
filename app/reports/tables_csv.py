"""Any table as CSV: RFC 4180, and nothing in it that a spreadsheet would take for a formula (CWE-1236)."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from app.core.errors import InputError
from app.core.notation.formulas import guarded

Cell = str | int | float | date | datetime | None


def table_csv(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """The table as text.

    Parameters
    ----------
    headings : one for each column
    rows : each as long as the headings; numbers stay numbers, days are written like 2026-03-27, a number that is
        not finite and None are left empty

    Raises
    ------
    InputError
        At a row of another length.

    Notes
    -----
    Lines end with CR LF, texts stand in quotes (RFC 4180, section 2), so that no other separator a spreadsheet may
    expect splits them. A text that begins like a formula, also after spaces, gets an apostrophe before it.

    Examples
    --------
    >>> table_csv(["Operator", "Retakes"], [["=1+1", -3]])
    '"Operator","Retakes"\\r\\n"\\'=1+1",-3\\r\\n'
    """
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow([guarded(each) for each in headings])
    for number, row in enumerate(rows, start=1):
        if len(row) != len(headings):
            raise InputError(
                f"rows[{number - 1}]",
                f"row {number} has {len(row)} cells, but there are {len(headings)} headings. Make them equal",
            )
        writer.writerow([_cell(each) for each in row])
    return out.getvalue()


def table_csv_bytes(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """The table as a file: UTF-8 with a byte order mark, without which spreadsheets misread accents."""
    return table_csv(headings, rows).encode("utf-8-sig")


def _cell(value: Cell) -> str | int | float:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return value if math.isfinite(value) else ""
    if isinstance(value, int):
        return value
    if isinstance(value, date):
        return value.isoformat()
    return guarded(value)
