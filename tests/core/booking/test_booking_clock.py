"""Local times and moments, through skipped and doubled hours, against dateutil's own reading of the zones."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from dateutil import tz
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.booking.clock import day_bounds, first_moment_from, moment_at, moments_at, zone_named
from app.core.errors import InputError

BERLIN, NEW_YORK, LORD_HOWE = (
    ZoneInfo("Europe/Berlin"),
    ZoneInfo("America/New_York"),
    ZoneInfo("Australia/Lord_Howe"),
)
ZONES = ("Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kolkata", "UTC")


@settings(max_examples=150, deadline=None)
@given(
    zone=st.sampled_from(ZONES),
    day=st.dates(date(2020, 1, 1), date(2030, 12, 31)),
    minute=st.integers(0, 24 * 60 - 1),
)
def test_a_time_exists_and_doubles_where_dateutil_says_so(zone: str, day: date, minute: int) -> None:
    at = time(minute // 60, minute % 60)
    other = tz.gettz(zone)
    local = datetime.combine(day, at, tzinfo=other)
    count = 0 if not tz.datetime_exists(local) else 2 if tz.datetime_ambiguous(local) else 1

    found = moments_at(day, at, ZoneInfo(zone))

    assert len(found) == count
    assert all(each.astimezone(other).replace(tzinfo=None) == datetime.combine(day, at) for each in found)


def test_every_minute_of_both_turns_of_the_clock_is_read_as_dateutil_reads_it() -> None:
    """Two whole days in Berlin: 29 March 2026 (skips an hour) and 25 October 2026 (has one twice)."""
    other = tz.gettz("Europe/Berlin")
    wrong = []
    for day in (date(2026, 3, 29), date(2026, 10, 25)):
        for minute in range(24 * 60):
            local = datetime.combine(day, time(minute // 60, minute % 60), tzinfo=other)
            count = 0 if not tz.datetime_exists(local) else 2 if tz.datetime_ambiguous(local) else 1
            if len(moments_at(day, local.time(), BERLIN)) != count:
                wrong.append(local)

    assert wrong == []


def test_a_skipped_time_is_refused_with_the_next_that_exists() -> None:
    with pytest.raises(InputError, match=r"02:30 on 2026-03-29 does not exist.* Choose 03:00") as caught:
        moment_at(date(2026, 3, 29), time(2, 30), BERLIN)

    assert caught.value.path == "time"


def test_a_doubled_time_must_be_told_apart() -> None:
    with pytest.raises(InputError, match="comes twice"):
        moment_at(date(2026, 10, 25), time(2, 30), BERLIN)


@pytest.mark.parametrize(("second", "hour"), [(False, 0), (True, 1)])
def test_first_and_second_of_a_doubled_time_lie_an_hour_apart(second: bool, hour: int) -> None:
    """Berlin is 2 hours ahead of UTC before the turn and 1 hour after it."""
    found = moment_at(date(2026, 10, 25), time(2, 30), BERLIN, second=second)

    assert found == datetime(2026, 10, 25, hour, 30, tzinfo=UTC)


def test_from_a_skipped_time_the_first_moment_is_when_the_clock_jumps() -> None:
    assert first_moment_from(date(2026, 3, 29), time(2, 30), BERLIN) == datetime(2026, 3, 29, 1, tzinfo=UTC)
    assert first_moment_from(date(2026, 3, 8), time(2, 59), NEW_YORK) == datetime(2026, 3, 8, 7, tzinfo=UTC)


def test_a_turn_of_half_an_hour_is_followed() -> None:
    """Lord Howe Island turns its clocks by 30 minutes, at 2:00 of 4 October 2026."""
    assert moments_at(date(2026, 10, 4), time(2, 15), LORD_HOWE) == ()
    assert len(moments_at(date(2026, 10, 4), time(2, 30), LORD_HOWE)) == 1


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 27), 24), (date(2026, 3, 29), 23), (date(2026, 10, 25), 25)]
)
def test_a_day_has_its_real_length(day: date, hours: int) -> None:
    start, end = day_bounds(day, BERLIN)

    assert end - start == timedelta(hours=hours)


@pytest.mark.parametrize("name", ["Europe/Atlantis", "../../etc/passwd", "", "CET\x00"])
def test_a_name_that_is_no_zone_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="is not a time zone"):
        zone_named(name, available_timezones())


def test_a_misspelt_zone_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError, match='Did you mean "Europe/Lisbon"'):
        zone_named("Europe/Lisbonn", available_timezones())
