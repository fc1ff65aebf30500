"""How long a record is kept: a number of years after its last entry, and of minors until a birthday."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

OF_AGE = 18
"""Who was younger at the last entry counts as a minor, as the rules in shared/guidance/retention say."""


@dataclass(frozen=True, kw_only=True)
class RetentionRule:
    """A rule.

    Parameters
    ----------
    years_after_last : full years after the last entry, at least 1
    until_age : of minors not before this birthday; 0 where age does not matter
    """

    key: str
    title: str
    years_after_last: int
    until_age: int
    jurisdiction: str = ""
    body: str = ""
    from_day: str = ""
    source: str = ""
    status: str = ""


def years_later(day: date, years: int) -> date:
    """The same day some years on; 29 February becomes 1 March, so that no year is cut short.

    Examples
    --------
    >>> years_later(date(2016, 2, 29), 10)
    datetime.date(2026, 3, 1)
    """
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def term_of(rule: RetentionRule, *, last_on: date, born: date) -> tuple[date, str]:
    """The first day on which a record may be erased, and why in words.

    Examples
    --------
    >>> rule = RetentionRule(key="x", title="x", years_after_last=10, until_age=28)
    >>> term_of(rule, last_on=date(2015, 3, 2), born=date(1960, 1, 1))
    (datetime.date(2025, 3, 2), '10 years after the last entry')
    >>> term_of(rule, last_on=date(2015, 3, 2), born=date(2010, 1, 1))
    (datetime.date(2038, 1, 1), 'a minor at the last entry: until the 28th birthday')
    """
    day = years_later(last_on, rule.years_after_last)
    why = f"{rule.years_after_last} years after the last entry"
    if rule.until_age and last_on < years_later(born, OF_AGE):
        birthday = years_later(born, rule.until_age)
        if birthday > day:
            return birthday, f"a minor at the last entry: until the {_ordinal(rule.until_age)} birthday"
    return day, why


def _ordinal(number: int) -> str:
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"
