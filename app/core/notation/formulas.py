"""Text that a spreadsheet shows and does not run (CWE-1236, OWASP "CSV Injection").

Quoting alone does not stop a spreadsheet from running a cell that begins like a formula: such a cell gets an
apostrophe before it, read as "this is text". `unguarded` takes it off again.
"""

from __future__ import annotations

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
