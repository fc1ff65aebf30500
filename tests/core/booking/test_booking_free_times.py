"""Opening hours and free times."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.booking.opening import (
    Hours,
    Span,
    checked_minutes,
    checked_week,
    free_starts,
    open_spans,
    why_not_open,
)
from app.core.errors import InputError

BERLIN = ZoneInfo("Europe/Berlin")
FRIDAY = date(2026, 3, 27)
LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)
WEEK = (Hours(4, time(8), time(12)), Hours(4, time(13), time(17)), Hours(0, time(9), time(10)))


def at(hour: int, minute: int = 0) -> datetime:
    """A moment of the Friday on Berlin's winter clock, an hour ahead of UTC."""
    return datetime(2026, 3, 27, hour - 1, minute, tzinfo=UTC)


def test_a_weekday_with_a_break_is_open_in_two_spans() -> None:
    assert open_spans(FRIDAY, WEEK, BERLIN) == (Span(at(8), at(12)), Span(at(13), at(17)))


def test_the_same_hours_are_an_hour_earlier_in_utc_in_summer() -> None:
    monday = [Hours(0, time(9), time(10))]
    before, after = (open_spans(day, monday, BERLIN)[0] for day in (date(2026, 3, 23), date(2026, 3, 30)))

    assert (before.start.hour, after.start.hour) == (8, 7)


@pytest.mark.parametrize(("day", "minutes"), [(date(2026, 3, 29), 180), (date(2026, 10, 25), 300)])
def test_a_night_with_a_turn_of_the_clock_is_open_as_long_as_it_really_lasts(day: date, minutes: int) -> None:
    """From 1:00 to 5:00 of those Sundays: three hours in spring, five in autumn."""
    (span,) = open_spans(day, [Hours(6, time(1), time(5))], BERLIN)

    assert span.minutes == minutes


def test_opening_in_a_skipped_hour_is_opening_when_the_clock_jumps() -> None:
    (span,) = open_spans(date(2026, 3, 29), [Hours(6, time(2, 30), time(5))], BERLIN)

    assert span.start == datetime(2026, 3, 29, 1, tzinfo=UTC)


def test_closing_in_a_doubled_hour_is_closing_the_second_time() -> None:
    (span,) = open_spans(date(2026, 10, 25), [Hours(6, time(2), time(2, 30))], BERLIN)

    assert span.minutes == 90


def test_free_times_leave_out_what_is_taken_and_what_would_run_over() -> None:
    spans = [Span(at(8), at(9))]

    found = free_starts(spans, [Span(at(8, 15), at(8, 30))], 15, not_before=LONG_AGO, every=15)

    assert found == (at(8), at(8, 30), at(8, 45))


def test_the_end_of_an_appointment_is_offered_though_it_lies_off_the_grid() -> None:
    found = free_starts([Span(at(8), at(9))], [Span(at(8), at(8, 25))], 30, not_before=LONG_AGO, every=15)

    assert found == (at(8, 25), at(8, 30))


def test_nothing_is_offered_in_the_past() -> None:
    found = free_starts([Span(at(8), at(9))], [], 20, not_before=at(8, 21), every=20)

    assert found == (at(8, 40),)


@given(
    busy=st.lists(st.tuples(st.integers(0, 47), st.integers(1, 12)), max_size=12),
    minutes=st.integers(1, 24).map(lambda n: 5 * n),
)
def test_a_time_is_offered_when_and_only_when_it_fits(busy: list[tuple[int, int]], minutes: int) -> None:
    """Every five minutes of four hours, beside a count of the minutes one by one."""
    start = at(8)
    spans = [Span(start, start + timedelta(hours=4))]
    taken = [Span(start + timedelta(minutes=5 * a), start + timedelta(minutes=5 * (a + n))) for a, n in busy]
    used = {minute for a, n in busy for minute in range(5 * a, 5 * (a + n))}
    fits = [
        begin
        for begin in range(0, 240, 5)
        if begin + minutes <= 240 and not used & set(range(begin, begin + minutes))
    ]

    found = free_starts(spans, taken, minutes, not_before=LONG_AGO, every=5)

    assert [(each - start) // timedelta(minutes=1) for each in found] == fits


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        ([Hours(0, time(9), time(9))], "Let it close after it opens"),
        ([Hours(0, time(9), time(12)), Hours(0, time(11), time(15))], "two spans of Monday overlap"),
    ],
)
def test_a_week_that_cannot_be_is_refused(hours: list[Hours], said: str) -> None:
    with pytest.raises(InputError, match=said):
        checked_week(hours)


@pytest.mark.parametrize("text", ["", "0", "7", "245", "-15", "15.5", "٢٠", "1e2", "999999999"])
def test_a_length_that_cannot_be_booked_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        checked_minutes(text)


def test_a_closed_room_says_when_it_is_open() -> None:
    spans = open_spans(FRIDAY, WEEK, BERLIN)

    assert why_not_open(Span(at(11, 50), at(12, 10)), spans, BERLIN) == (
        "the room is open 08:00 to 12:00 and 13:00 to 17:00 on that day"
    )
    assert why_not_open(Span(at(11, 40), at(12)), spans, BERLIN) == ""
