"""Month arithmetic on calendar days.

A month on is the same day of the next month, or that month's last day where it has no such day: from 31 January
one month on is 28 February (29 in a leap year), twelve months on from 29 February is 28 February. Months are
counted from the day of the images, never one after another, so that a 31st does not slip to a 28th for good.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta

from app.core.errors import InputError

MOST_MONTHS = 240
"""No interval of a table or prescription is longer, months; it catches a year typed into the field of months."""


def months_after(day: date, months: int) -> date:
    """The day so many months later (earlier where negative).

    Raises
    ------
    InputError
        At ``months``: it would leave the calendar.

    Examples
    --------
    >>> months_after(date(2026, 1, 31), 1), months_after(date(2024, 2, 29), 12)
    (datetime.date(2026, 2, 28), datetime.date(2025, 2, 28))
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise InputError(
            "months", f"{months} months from {day.isoformat()} leave the calendar. Enter fewer months"
        )
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def birthday(born: date, years: int) -> date:
    """The day on which somebody reaches an age: who was born on 29 February, on 1 March in other years.

    Full years are lived only when the day of birth has come round: on 28 February it has not.
    """
    try:
        return born.replace(year=born.year + years)
    except ValueError:
        return date(born.year + years, 3, 1)


def age_on(born: date, day: date) -> int:
    """Full years lived on a day."""
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


@dataclass(frozen=True, order=True)
class Months:
    """A range of months as guidance gives it, like 24 to 36; one number where both are the same.

    Raises
    ------
    InputError
        Not whole numbers from 1 to 240, or the first greater than the second.
    """

    low: int
    high: int

    def __post_init__(self) -> None:
        for name, value in (("low", self.low), ("high", self.high)):
            if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_MONTHS:
                raise InputError(
                    name, f'"{value}" is not a number of months. Enter a whole number, 1 to {MOST_MONTHS}'
                )
        if self.low > self.high:
            raise InputError(
                "high", f"the range ends ({self.high}) before it begins ({self.low}). Swap the two numbers"
            )

    @property
    def middle(self) -> int:
        """Half way, to the whole month below: when images are called due.

        Common practice, no source: the published ranges name no day within themselves.
        """
        return (self.low + self.high) // 2

    def words(self) -> str:
        """The range as it is read.

        Examples
        --------
        >>> Months(24, 36).words(), Months(6, 6).words()
        ('24 to 36 months', '6 months')
        """
        if self.low == self.high:
            return f"{self.low} month{'' if self.low == 1 else 's'}"
        return f"{self.low} to {self.high} months"


@dataclass(frozen=True, kw_only=True)
class Window:
    """The three days of a recall; earliest <= due <= overdue.

    Parameters
    ----------
    earliest : no sooner without a further reason
    due : from this day on it is due
    overdue : last day of the window; the day after, it is overdue
    """

    earliest: date
    due: date
    overdue: date


def window_after(last: date, months: Months, *, grace_months: int) -> Window:
    """The window of a range of months after images.

    Parameters
    ----------
    grace_months : months until overdue where the range is a single number, and so has no width of its own
    """
    high = months.high if months.high > months.low else months.high + grace_months
    return Window(
        earliest=months_after(last, months.low),
        due=months_after(last, months.middle),
        overdue=months_after(last, high),
    )


def window_on(day: date, *, grace_months: int) -> Window:
    """The window of a single prescribed day."""
    return Window(earliest=day, due=day, overdue=months_after(day, grace_months))


def day_before(day: date) -> date:
    """Yesterday, seen from a day."""
    return day - timedelta(days=1)
