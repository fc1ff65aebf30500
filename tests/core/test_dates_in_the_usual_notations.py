"""Dates as people write them: read, refused with the reason, and never guessed."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil import parser as dateutil_parser
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.notation.dates import DayMonth, NotADate, checked_day, is_two_digit_year, notation_of, read_date

TODAY = date(2026, 3, 27)
DAY, MONTH = DayMonth.DAY_FIRST, DayMonth.MONTH_FIRST


@pytest.mark.parametrize(
    "text",
    "1962-04-03|1962/4/3|1962.04.03|19620403|3 April 1962|3rd Apr. 1962|3-Apr-62|April 3, 1962|Apr 3rd 1962|"
    "1962-04-03 00:00:00|1962-04-03T00:00|3 apr 1962 12:00 AM".split("|"),
)
def test_these_read_the_same_whatever_the_order(text: str) -> None:
    assert {read_date(text, order, today=TODAY) for order in (DAY, MONTH, None)} == {date(1962, 4, 3)}


@pytest.mark.parametrize("text", ["3/4/1962", "03.04.62", "3-4-1962", "3. 4. 1962", "3 4 1962"])
def test_day_and_month_as_numbers_need_the_order(text: str) -> None:
    assert read_date(text, DAY, today=TODAY) == date(1962, 4, 3)
    assert read_date(text, MONTH, today=TODAY) == date(1962, 3, 4)
    with pytest.raises(NotADate, match="day first or month first"):
        read_date(text, None, today=TODAY)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("31/2/1984", "February 1984 has no day 31"),
        ("29.2.1900", "February 1900 has no day 29"),
        ("1984-13-01", "has no month 13"),
        ("30767", "bare number"),
        ("30767.5", "bare number"),
        ("3 Arpil 1962", 'Did you mean "april"?'),
        ("yesterday", "is not a date"),
        ("3/4.1962", "is not a date"),
        ("3/4", "is not a date"),
    ],
)
def test_what_is_no_date_says_why(text: str, reason: str) -> None:
    with pytest.raises(NotADate) as refused:
        read_date(text, DAY, today=TODAY)

    assert reason in str(refused.value)


@pytest.mark.parametrize(
    ("text", "day"),
    [("27/3/26", date(2026, 3, 27)), ("28/3/26", date(1926, 3, 28)), ("1/1/00", date(2000, 1, 1))],
)
def test_a_two_digit_year_is_the_latest_not_after_today(text: str, day: date) -> None:
    assert read_date(text, DAY, today=TODAY) == day
    assert is_two_digit_year(text)
    assert not is_two_digit_year("27/3/2026")


@pytest.mark.parametrize(("text", "reason"), [("28/3/2026", "in the future"), ("31/12/1899", "before 1900")])
def test_days_that_cannot_be_are_refused(text: str, reason: str) -> None:
    with pytest.raises(NotADate, match=reason):
        checked_day(text, DAY, today=TODAY, what="the birth date")


def test_one_value_settles_the_column() -> None:
    found = notation_of(["3/4/1962", "", "27/4/1962", "nonsense"], today=TODAY)

    assert (found.settled, found.must_ask, found.deciding) == (DAY, False, 2)


def test_where_both_orders_fit_every_value_it_must_be_asked() -> None:
    found = notation_of(["5/5/1962", "3/4/1962", "1/12/2001"], today=TODAY)

    assert (found.settled, found.must_ask, found.example) == (None, True, 1)


def test_where_neither_order_fits_every_value_it_must_be_asked() -> None:
    found = notation_of(["27/4/1962", "4/27/1962"], today=TODAY)

    assert (found.settled, found.must_ask, found.day_first, found.month_first) == (None, True, 1, 1)


@pytest.mark.parametrize("values", [["5/5/1962"], ["1962-04-03"], ["", " "], []])
def test_nothing_is_asked_where_it_makes_no_difference(values: list[str]) -> None:
    assert not notation_of(values, today=TODAY).must_ask


DAYS = st.dates(date(1900, 1, 1), TODAY)
WRITTEN = st.sampled_from(["%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%Y-%m-%d", "%Y/%m/%d", "%d %b %Y", "%B %d, %Y"])


@settings(max_examples=150)
@given(DAYS, WRITTEN)
def test_what_was_written_day_first_is_read_back(day: date, written: str) -> None:
    assert read_date(day.strftime(written), DAY, today=TODAY) == day


@settings(max_examples=100)
@given(DAYS, st.sampled_from(["%m/%d/%Y", "%d/%m/%Y", "%Y-%m-%d", "%d %B %Y"]))
def test_an_independent_library_reads_the_same(day: date, written: str) -> None:
    """python-dateutil, told the order."""
    text = day.strftime(written)
    order = MONTH if written.startswith("%m") else DAY
    theirs = dateutil_parser.parse(text, dayfirst=order is DAY, yearfirst=written.startswith("%Y"))

    if written.startswith("%Y"):
        theirs = dateutil_parser.isoparse(text)
    assert read_date(text, order, today=TODAY) == theirs.date()


@settings(max_examples=60)
@given(st.lists(DAYS, min_size=1, max_size=12), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y"]))
def test_the_wrong_order_is_never_settled(days: list[date], written: str) -> None:
    """Whatever the column holds, it is settled rightly, asked, or makes no difference."""
    texts = [day.strftime(written) for day in days]
    found = notation_of(texts, today=TODAY)

    if not found.must_ask:
        assert [read_date(text, found.settled, today=TODAY) for text in texts] == days


@given(st.text(max_size=30))
def test_any_text_is_a_day_or_refused_with_a_sentence(text: str) -> None:
    try:
        said = read_date(text, DAY, today=TODAY).isoformat()
    except NotADate as refused:
        said = str(refused)

    assert said
