"""What people type: one line, no control characters, not longer than it can be shown."""

from __future__ import annotations

import unicodedata
from datetime import date

from app.core.errors import InputError

MAX_LINE = 200
MAX_PARAGRAPH = 2000


def checked_line(text: str, path: str, *, empty: bool = False, longest: int = MAX_LINE) -> str:
    """The text on one line, in composed form, outer spaces off.

    Raises
    ------
    InputError
        At ``path``: empty (unless allowed), too long, or with control characters.
    """
    clean = unicodedata.normalize("NFC", text).strip()
    if not clean and not empty:
        raise InputError(path, "this is empty. Fill it in")
    if len(clean) > longest:
        raise InputError(path, f"this has {len(clean)} characters; {longest} are the most. Shorten it")
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in clean):
        raise InputError(path, "this holds a character that cannot be shown. Type it again")
    return clean


def checked_birth_date(text: str, path: str, *, today: date) -> date:
    """A birth date written year-month-day.

    Raises
    ------
    InputError
        At ``path``: not a date, in the future, or more than 130 years ago.
    """
    try:
        born = date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(path, f'"{text}" is not a date. Write year, month and day, like 1984-03-27') from error
    if born > today:
        raise InputError(path, f"{born.isoformat()} is in the future. Enter the day the patient was born")
    if today.year - born.year > 130:
        raise InputError(path, f"{born.isoformat()} is more than 130 years ago. Check the year")
    return born
