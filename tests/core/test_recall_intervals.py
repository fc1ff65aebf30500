"""Months on the calendar, against dateutil's relativedelta; and the window of a range."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import InputError
from app.core.recall.intervals import Months, age_on, birthday, months_after, window_after, window_on

DAYS = st.dates(date(1900, 1, 1), date(2199, 12, 31))
MONTHS = st.integers(-240, 240)


@given(day=DAYS, months=MONTHS)
def test_months_agree_with_dateutil(day: date, months: int) -> None:
    """python-dateutil's relativedelta is the independent calendar."""
    assert months_after(day, months) == day + relativedelta(months=months)


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2026, 12, 31), 2, date(2027, 2, 28)),
        (date(2026, 3, 31), -1, date(2026, 2, 28)),
        (date(2025, 12, 1), 1, date(2026, 1, 1)),
    ],
)
def test_month_ends_and_leap_days(day: date, months: int, expected: date) -> None:
    assert months_after(day, months) == expected


@given(day=DAYS, months=st.integers(0, 240), more=st.integers(0, 24))
def test_more_months_never_come_sooner(day: date, months: int, more: int) -> None:
    assert months_after(day, months) <= months_after(day, months + more)


@given(first=DAYS, second=DAYS, months=MONTHS)
def test_later_images_never_fall_due_sooner(first: date, second: date, months: int) -> None:
    early, late = sorted((first, second))

    assert months_after(early, months) <= months_after(late, months)


@pytest.mark.parametrize("months", [-30000, 120000])
def test_months_beyond_the_calendar_are_told(months: int) -> None:
    with pytest.raises(InputError, match="leave the calendar"):
        months_after(date(2026, 1, 1), months)


@given(born=DAYS, years=st.integers(1, 100))
def test_a_birthday_is_the_first_day_of_that_age(born: date, years: int) -> None:
    day = birthday(born, years)

    assert age_on(born, day) == years
    assert age_on(born, date.fromordinal(day.toordinal() - 1)) == years - 1


def test_who_was_born_on_a_leap_day_comes_of_age_on_the_first_of_march() -> None:
    assert birthday(date(2008, 2, 29), 18) == date(2026, 3, 1)


@given(last=DAYS, low=st.integers(1, 120), width=st.integers(0, 120), grace=st.integers(1, 3))
def test_earliest_due_and_overdue_stand_in_order(last: date, low: int, width: int, grace: int) -> None:
    window = window_after(last, Months(low, low + width), grace_months=grace)

    assert last < window.earliest <= window.due <= window.overdue
    assert window.due < window.overdue


def test_a_range_is_earliest_middle_and_end() -> None:
    window = window_after(date(2024, 2, 29), Months(24, 36), grace_months=1)

    assert (window.earliest, window.due, window.overdue) == (
        date(2026, 2, 28),
        date(2026, 8, 29),
        date(2027, 2, 28),
    )


def test_a_single_number_is_overdue_after_its_grace() -> None:
    window = window_after(date(2026, 1, 31), Months(6, 6), grace_months=1)

    assert (window.earliest, window.due, window.overdue) == (
        date(2026, 7, 31),
        date(2026, 7, 31),
        date(2026, 8, 31),
    )


def test_a_single_day_is_earliest_and_due_at_once() -> None:
    window = window_on(date(2026, 1, 31), grace_months=1)

    assert (window.earliest, window.due, window.overdue) == (
        date(2026, 1, 31),
        date(2026, 1, 31),
        date(2026, 2, 28),
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0, 6, "whole number"),
        (6, 241, "whole number"),
        (12, 6, "Swap"),
        ("6", 12, "whole number"),
        (True, 6, "whole"),
    ],
)
def test_a_range_that_cannot_be_is_refused(low: int, high: int, words: str) -> None:
    with pytest.raises(InputError, match=words):
        Months(low, high)
