"""The period, dimensions and measures of the quality review."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from app.core.errors import InputError, did_you_mean

DIMENSIONS: dict[str, str] = {
    "month": "Month",
    "reason": "Reason",
    "region": "Region",
    "slot": "View",
    "operator": "Operator",
    "room": "Room",
    "receptor": "Receptor",
    "template": "Template",
    "age_group": "Age of patient",
}
"""What figures can be told apart by."""

MEASURES: dict[str, str] = {
    "exposures": "Exposures",
    "retaken": "Retaken",
    "repeats": "Retakes made",
    "reviewed": "Reviewed",
    "faultless": "Without fault",
    "non_diagnostic": "Non-diagnostic",
    "avoidable": "Avoidable retakes",
}
"""What is counted of exposures."""

DEFINITIONS: dict[str, str] = {
    "exposures": "Every exposure recorded, retakes too; files set aside are not exposures of the series.",
    "retaken": "Images that were repeated. Each counts once, however often it was repeated, at the image it was: "
    "in its month, under its operator, view, room and receptor.",
    "repeats": "Exposures that repeat an earlier image, in the month in which they were made.",
    "reviewed": "Exposures whose content somebody has confirmed.",
    "faultless": "Reviewed, and no fault found.",
    "non_diagnostic": "Reviewed, with a fault that took away at least one thing that its view should show of this "
    "patient. Such an image need not be repeated where others show the same. Share of reviewed exposures; by "
    "reason, an image with two faults counts under both.",
    "avoidable": "Retaken although, before the retake, reviewed images of the series already showed all that "
    "either view should show. Share of images retaken.",
    "missed": "Series closed although reviewed images left something unseen. Share of series closed, in the month "
    "of closing, under whoever started the series.",
    "retakes_missed": "Exposures that would have completed those series, by the smallest plan at closing.",
    "saved": "After the first pass of each closed series: exposures that repeating every faulty or missing view "
    "would have taken, less those of the smallest plan.",
}
"""What each measure counts, in words for the page."""

AGE_GROUPS: dict[str, str] = {
    "0-5": "under 6",
    "6-11": "6 to 11",
    "12-17": "12 to 17",
    "18-64": "18 to 64",
    "65+": "65 and over",
}
"""Age groups in years on the day of the exposure (common practice, no source; they follow the dentition)."""

_LAST_YEARS = (5, 11, 17, 64)


def age_group(born: date, day: date) -> str:
    """The group of a patient's age on a day.

    Examples
    --------
    >>> age_group(date(2014, 3, 28), date(2026, 3, 27)), age_group(date(2014, 3, 28), date(2026, 3, 28))
    ('6-11', '12-17')
    """
    years = day.year - born.year - ((day.month, day.day) < (born.month, born.day))
    for last, code in zip(_LAST_YEARS, AGE_GROUPS, strict=False):
        if years <= last:
            return code
    return "65+"


@dataclass(frozen=True, kw_only=True)
class Period:
    """Whole months: from the first day of one to the last day of another, both counted in."""

    first: date
    last: date

    @classmethod
    def of_months(cls, first: str, last: str) -> Period:
        """From one month to another, each written like 2026-03.

        Raises
        ------
        InputError
            At ``first`` or ``last``: not a month, or the last before the first, or more than 100 years.
        """
        begin, end = _month(first, "first"), _month(last, "last")
        if end < begin:
            raise InputError("last", f"{last} lies before {first}. Choose the same month or a later one")
        if (end.year - begin.year) > 100:
            raise InputError("first", "this is longer than 100 years. Choose a shorter period")
        return cls(first=begin, last=next_month(end) - timedelta(days=1))

    @classmethod
    def twelve_months_to(cls, today: date) -> Period:
        """The month of a day, with the eleven before it."""
        end = next_month(today.replace(day=1))
        return cls(first=end.replace(year=end.year - 1), last=end - timedelta(days=1))

    @property
    def months(self) -> tuple[date, ...]:
        """The first day of each month, in order."""
        found = [self.first]
        while (after := next_month(found[-1])) <= self.last:
            found.append(after)
        return tuple(found)

    @property
    def text(self) -> str:
        """In words, like Apr 2025 to Mar 2026."""
        first, last = f"{self.first:%b %Y}", f"{self.last:%b %Y}"
        return first if first == last else f"{first} to {last}"


def next_month(day: date) -> date:
    """The first day of the month after."""
    return date(day.year + day.month // 12, day.month % 12 + 1, 1)


def _month(text: str, path: str) -> date:
    found = re.fullmatch(r"(\d{4})-(\d{2})", text.strip())
    if not found or not 1 <= int(found[2]) <= 12 or not 1900 <= int(found[1]) <= 2200:
        raise InputError(path, f'"{text}" is not a month. Write year and month, like 2026-03')
    return date(int(found[1]), int(found[2]), 1)


def checked_choice(given: str, known: dict[str, str], path: str) -> str:
    """The code, if it is one of those known.

    Raises
    ------
    InputError
        At ``path``, with the nearest known.
    """
    if given not in known:
        raise InputError(
            path, f'"{given}" cannot be chosen here. Choose {", ".join(known)}.' + did_you_mean(given, known)
        )
    return given
