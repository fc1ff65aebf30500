"""CSV that a spreadsheet shows and does not run.

RFC 4180: records end in CRLF, fields with a comma, quote or line break are quoted, quotes inside are doubled.
Quoting alone does not stop a spreadsheet from running a cell that begins like a formula (CWE-1236, OWASP "CSV
Injection"): such a cell gets an apostrophe before it, read as "this is text". `unguarded` takes it off again.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a spreadsheet may take for the start of a formula."""

_BLANKS = " \u00a0\u2007\u202f\u200b\ufeff\u3000"
_WIDE = str.maketrans("＝＋－＠", "=+-@")


def could_run(text: str) -> bool:
    """Whether a spreadsheet could take the cell for a formula; blanks and full-width signs do not hide it.

    Examples
    --------
    >>> could_run("=1+1"), could_run("\u00a0@SUM(A1)"), could_run("a=b"), could_run("")
    (True, True, False, False)
    """
    return text.lstrip(_BLANKS).translate(_WIDE).startswith(STARTS_A_FORMULA)


def guarded(text: str) -> str:
    """The cell as it is written: with an apostrophe before it where it could run.

    Examples
    --------
    >>> guarded("=HYPERLINK(0)"), guarded("Ada"), guarded("'=1")
    ("'=HYPERLINK(0)", 'Ada', "''=1")
    """
    return f"'{text}" if could_run(text.lstrip("'")) else text


def unguarded(text: str) -> str:
    """The cell as it was before `guarded`."""
    return text[1:] if text.startswith("'") and could_run(text.lstrip("'")) else text


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[str | int | float | date | None]]) -> bytes:
    """A table as a CSV file: UTF-8 with a byte-order mark (so that spreadsheets read accents), comma, CRLF.

    Parameters
    ----------
    rows : numbers are written as numbers (never guarded), days as year-month-day, None as an empty field
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writerow([guarded(name) for name in header])
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode("utf-8", errors="replace")


def _cell(value: str | int | float | date | None) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    return guarded(value) if isinstance(value, str) else repr(value)
