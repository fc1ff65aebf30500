"""CSV that a spreadsheet shows and does not run.

RFC 4180: records end in CRLF, fields with a comma, quote or line break are quoted, quotes inside are doubled.
A text that begins like a formula is guarded by `app.core.notation.formulas`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date

from app.core.notation.formulas import guarded


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[str | int | float | date | None]]) -> bytes:
    """A table as a CSV file: UTF-8 with a byte-order mark (so that spreadsheets read accents), comma, CRLF.

    Parameters
    ----------
    rows : numbers are written as numbers (never guarded), days as year-month-day, None as an empty field
    """
    return b"\xef\xbb\xbf" + csv_lines([header]) + csv_lines(rows)


def csv_lines(rows: Iterable[Sequence[str | int | float | date | None]]) -> bytes:
    """Further lines of a file that begins with `csv_bytes`, for one that is sent piece by piece."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue().encode("utf-8", errors="replace")


def _cell(value: str | int | float | date | None) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    return guarded(value) if isinstance(value, str) else repr(value)
