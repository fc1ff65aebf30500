"""How dates, numbers, teeth and people are written on the pages; used as filters in the templates."""

from __future__ import annotations

from datetime import date, datetime

from app.core.numbering import Numbering, shown
from app.core.teeth import Tooth

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def shown_date(day: date) -> str:
    """The day in words that no country reads the other way round.

    Examples
    --------
    >>> shown_date(date(2026, 3, 27))
    '27 Mar 2026'
    """
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def shown_moment(moment: datetime) -> str:
    """Day and time of day on the clock of this machine."""
    local = moment.astimezone()
    return f"{shown_date(local.date())}, {local.hour:02d}:{local.minute:02d}"


def shown_number(value: float, places: int = 0) -> str:
    """A number with thin-spaced thousands, and a decimal point only where asked for.

    Examples
    --------
    >>> shown_number(1300), shown_number(1.5, 1)
    ('1\\u202f300', '1.5')
    """
    return f"{value:,.{places}f}".replace(",", "\u202f")


def counted(number: int, one: str, many: str = "") -> str:
    """A count with its noun.

    Examples
    --------
    >>> counted(1, "gap"), counted(3, "gap"), counted(0, "retake")
    ('1 gap', '3 gaps', 'no retakes')
    """
    noun = one if number == 1 else many or f"{one}s"
    return f"{number if number else 'no'} {noun}"


def shown_tooth(tooth: Tooth, numbering: Numbering | str) -> str:
    """The tooth in the designation that the practice reads."""
    return shown(tooth, Numbering(numbering))


def age_at(born: date, today: date) -> int:
    """Full years lived."""
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))


def in_words(code: str) -> str:
    """A code as words.

    Examples
    --------
    >>> in_words("root_remnant")
    'root remnant'
    """
    return code.replace("_", " ")


FILTERS = {
    "day": shown_date,
    "moment": shown_moment,
    "number": shown_number,
    "counted": counted,
    "tooth": shown_tooth,
    "words": in_words,
}
"""The filters of the templates, by the name under which they are used."""
