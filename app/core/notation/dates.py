"""Dates in the usual notations: what a text says, and which notations a column of texts can be in.

Read whatever the order of day and month: ``2026-03-27`` (ISO 8601; also with dots or slashes, and ``20260327``),
``27 Mar 2026``, ``March 27, 2026``. Only read once it is known which comes first: ``27/3/2026``, ``3-27-26``,
``27.03.2026``. A time of day behind the date is passed over.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from app.core.errors import did_you_mean


class DayMonth(StrEnum):
    """Which of day and month is written first."""

    DAY_FIRST = "day_first"
    """27/3/2026"""
    MONTH_FIRST = "month_first"
    """3/27/2026"""


EARLIEST = date(1900, 1, 1)

MONTH_NAMES = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_BY_NAME = {name: at for at, name in enumerate(MONTH_NAMES, 1)}
_BY_NAME |= {name[:3]: at for name, at in _BY_NAME.items()} | {"sept": 9}

_TIME = re.compile(r"[T\s]+\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?\s*([ap]\.?m\.?)?$", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"(\d{4})\s*([-/.])\s*(\d{1,2})\s*\2\s*(\d{1,2})")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_YEAR_LAST = re.compile(r"(\d{1,2})\s*([-/.\s])\s*(\d{1,2})\s*\2\s*(\d{4}|\d{2})")
_DAY_NAME_YEAR = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[\s.\-/]*([^\W\d_]+)\.?[\s,.\-/]*(\d{4}|\d{2})")
_NAME_DAY_YEAR = re.compile(r"([^\W\d_]+)\.?[\s.\-/]*(\d{1,2})(?:st|nd|rd|th)?[\s,.\-/]+(\d{4}|\d{2})")


class NotADate(ValueError):
    """The text is no date; its sentence says why and what to write."""


def read_date(text: str, order: DayMonth | None, *, today: date) -> date:
    """The day that a text names.

    Parameters
    ----------
    order : needed only where both come as numbers before the year
    today : two-digit years are the latest that are not after it: in 2026, ``26`` is 2026 and ``27`` is 1927

    Raises
    ------
    NotADate
        No known notation, no such day in the calendar, or ``order`` is needed and not given.

    Examples
    --------
    >>> day = date(2026, 3, 27)
    >>> read_date("3/4/62", DayMonth.DAY_FIRST, today=day), read_date("Apr 3, 1962", None, today=day)
    (datetime.date(1962, 4, 3), datetime.date(1962, 4, 3))
    """
    first, second, year, fixed = _parts(text)
    if fixed is not None:
        return _day(text, _full_year(year, fixed, today), *fixed)
    if order is None:
        raise NotADate(f'"{text}" can be read day first or month first. Choose which')
    month_day = (second, first) if order is DayMonth.DAY_FIRST else (first, second)
    return _day(text, _full_year(year, month_day, today), *month_day)


def _parts(text: str) -> tuple[int, int, str, tuple[int, int] | None]:
    """The two numbers before the year, the year as written, and (month, day) where no order is needed."""
    bare = _TIME.sub("", text.strip().replace("\u00a0", " ")).strip()
    found = _YEAR_FIRST.fullmatch(bare)
    if found:
        return 0, 0, found[1], (int(found[3]), int(found[4]))
    found = _COMPACT.fullmatch(bare)
    if found:
        return 0, 0, found[1], (int(found[2]), int(found[3]))
    found = _YEAR_LAST.fullmatch(bare)
    if found:
        return int(found[1]), int(found[3]), found[4], None
    found = _DAY_NAME_YEAR.fullmatch(bare)
    if found:
        return 0, 0, found[3], (_month(text, found[2]), int(found[1]))
    found = _NAME_DAY_YEAR.fullmatch(bare)
    if found:
        return 0, 0, found[3], (_month(text, found[1]), int(found[2]))
    if bare.replace(".", "", 1).isdigit():
        raise NotADate(f'"{text}" is a bare number. Show the column as dates, and save the file again')
    raise NotADate(f'"{text}" is not a date. Write it like 1984-03-27')


def _month(text: str, name: str) -> int:
    found = _BY_NAME.get(name.lower())
    if found is None:
        near = did_you_mean(name, MONTH_NAMES)
        raise NotADate(f'"{name}" in "{text}" is not an English month.{near} Or write 1984-03-27')
    return found


def _full_year(year: str, month_day: tuple[int, int], today: date) -> int:
    if len(year) == 4:
        return int(year)
    this_century = today.year // 100 * 100 + int(year)
    in_future = (this_century, *month_day) > (today.year, today.month, today.day)
    return this_century - 100 if in_future else this_century


def _day(text: str, year: int, month: int, day: int) -> date:
    if not 1 <= month <= 12:
        raise NotADate(f'"{text}" has no month {month}. Correct it')
    try:
        return date(year, month, day)
    except ValueError:
        name = MONTH_NAMES[month - 1].capitalize()
        raise NotADate(f'"{text}" is not in the calendar: {name} {year} has no day {day}. Correct it') from None


def is_two_digit_year(text: str) -> bool:
    """Whether the text is a date whose year is written with two digits."""
    try:
        return len(_parts(text)[2]) == 2
    except NotADate:
        return False


@dataclass(frozen=True)
class ColumnNotation:
    """What a column's values say about the order of day and month.

    Parameters
    ----------
    settled : the order where the values leave one only; None where none needs it or both are possible
    must_ask : both are possible, or neither reads everything, and it makes a difference
    day_first, month_first : how many of the values that need an order can be read with it
    deciding : index of a value that settles it; None where none does
    example : index of a value that the two orders read differently; None where none does
    """

    settled: DayMonth | None
    must_ask: bool
    day_first: int
    month_first: int
    deciding: int | None
    example: int | None


def notation_of(values: Sequence[str], *, today: date) -> ColumnNotation:
    """Which notations the values of a column can be in; empty values are passed over, impossible ones too.

    Never guesses: where both orders read every value, and differ, it must be asked.
    """
    fits: dict[DayMonth, set[int]] = {order: set() for order in DayMonth}
    example = None
    for at, value in enumerate(values):
        if not value.strip() or not _needs_order(value):
            continue
        days = {order: _try(value, order, today) for order in DayMonth}
        for order, day in days.items():
            if day is not None:
                fits[order].add(at)
        if None not in days.values() and days[DayMonth.DAY_FIRST] != days[DayMonth.MONTH_FIRST]:
            example = at if example is None else example
    day_only = _least(fits[DayMonth.DAY_FIRST] - fits[DayMonth.MONTH_FIRST])
    month_only = _least(fits[DayMonth.MONTH_FIRST] - fits[DayMonth.DAY_FIRST])
    counts = (len(fits[DayMonth.DAY_FIRST]), len(fits[DayMonth.MONTH_FIRST]))
    if day_only is not None and month_only is not None:
        return ColumnNotation(None, True, *counts, None, day_only if example is None else example)
    if day_only is not None:
        return ColumnNotation(DayMonth.DAY_FIRST, False, *counts, day_only, example)
    if month_only is not None:
        return ColumnNotation(DayMonth.MONTH_FIRST, False, *counts, month_only, example)
    # What is left reads the same both ways, like 5/5/2026, or must be asked.
    same = DayMonth.DAY_FIRST if counts[0] and example is None else None
    return ColumnNotation(same, example is not None, *counts, None, example)


def _needs_order(text: str) -> bool:
    try:
        return _parts(text)[3] is None
    except NotADate:
        return False


def _try(text: str, order: DayMonth, today: date) -> date | None:
    try:
        return read_date(text, order, today=today)
    except NotADate:
        return None


def _least(numbers: Iterable[int]) -> int | None:
    return min(numbers, default=None)


def checked_day(text: str, order: DayMonth | None, *, today: date, what: str) -> date:
    """A day in the past, not before 1900.

    Parameters
    ----------
    what : completes "… is in the future", like "the birth date"

    Raises
    ------
    NotADate
    """
    day = read_date(text, order, today=today)
    if day > today:
        raise NotADate(f'"{text}": {what} {day.isoformat()} is in the future. Correct it')
    if day < EARLIEST:
        raise NotADate(f'"{text}": {what} {day.isoformat()} is before 1900. Check the year')
    return day
