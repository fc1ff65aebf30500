"""Days that people type on the recall's forms."""

from __future__ import annotations

from datetime import date

from app.core.errors import InputError
from app.core.recall.intervals import months_after

FURTHEST_MONTHS = 240
"""No day of a recall lies further ahead, months; it catches a mistyped year."""


def past_day(text: str, path: str, *, today: date, born: date) -> date:
    """A day on which something has been done: since the patient's birth, today at the latest.

    Raises
    ------
    InputError
        At ``path``.
    """
    day = _day(text, path)
    if day > today:
        raise InputError(path, f"{day.isoformat()} is in the future. Enter the day on which it was done")
    if day < born:
        raise InputError(path, f"{day.isoformat()} is before the patient was born. Check the year")
    return day


def coming_day(text: str, path: str, *, today: date, after: bool = False) -> date:
    """A day from today on, within twenty years.

    Parameters
    ----------
    after : whether it must come after today

    Raises
    ------
    InputError
        At ``path``.
    """
    day = _day(text, path)
    if day < today or (after and day == today):
        raise InputError(path, f"{day.isoformat()} is not ahead of us. Enter a day after {today.isoformat()}")
    if day > months_after(today, FURTHEST_MONTHS):
        raise InputError(path, f"{day.isoformat()} is more than twenty years ahead. Check the year")
    return day


def coming_day_or_none(text: str, path: str, *, today: date, after: bool = False) -> date | None:
    """A coming day, or None where the field was left empty."""
    return coming_day(text, path, today=today, after=after) if text.strip() else None


def _day(text: str, path: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(path, f'"{text}" is not a date. Write year, month and day, like 2026-09-30') from error
