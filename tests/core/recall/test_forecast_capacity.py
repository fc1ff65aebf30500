"""The forecast of recalls against places: the show rate's interval, the spread of who comes, what is carried."""

from __future__ import annotations

import pytest
from scipy.stats import betabinom
from statsmodels.stats.proportion import proportion_confint

from app.core.recall.capacity import Range, Room, forecast, show_rate


@pytest.mark.parametrize(
    ("kept", "booked", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_interval_of_the_show_rate_is_the_published_one(
    kept: int, booked: int, low: float, high: float
) -> None:
    """Newcombe RG, Stat Med 1998;17:857-872, Table I, method 3."""
    rate = show_rate(kept, booked - kept)

    assert (round(rate.low, 4), round(rate.high, 4)) == (low, high)


@pytest.mark.parametrize(("kept", "missed"), [(1, 0), (0, 1), (7, 3), (400, 31), (12, 12)])
def test_the_interval_of_the_show_rate_agrees_with_statsmodels(kept: int, missed: int) -> None:
    low, high = proportion_confint(kept, kept + missed, alpha=0.05, method="wilson")
    rate = show_rate(kept, missed)

    assert (rate.low, rate.high) == pytest.approx((low, high), abs=1e-12)


def test_without_any_appointment_the_rate_is_unknown() -> None:
    rate = show_rate(0, 0)

    assert (rate.estimate, rate.low, rate.high) == (None, 0.0, 1.0)


@pytest.mark.parametrize(("kept", "missed", "places"), [(180, 20, 40), (9, 1, 25), (0, 0, 30)])
def test_who_comes_in_the_first_week_spreads_as_the_exact_distribution(
    kept: int, missed: int, places: int
) -> None:
    """Booked are as many as there are places; the count of those who come is then beta-binomial."""
    exact = betabinom(places, kept + 0.5, missed + 0.5)
    (week,) = forecast([1000], [places], backlog=0, rate=show_rate(kept, missed), paths=40_000)

    assert abs(week.seen.low - exact.ppf(0.025)) <= 1
    assert abs(week.seen.middle - exact.ppf(0.5)) <= 1
    assert abs(week.seen.high - exact.ppf(0.975)) <= 1


def test_everybody_who_waits_is_seen_left_or_newly_due() -> None:
    """With a rate that is all but certain, people are counted exactly: 60 wait, 50 places, and so on."""
    weeks = forecast([40, 10, 0], [50, 50, 50], backlog=20, rate=show_rate(10**12, 0))

    assert [week.waiting for week in weeks] == [Range(60, 60, 60), Range(20, 20, 20), Range(0, 0, 0)]
    assert [week.left for week in weeks] == [Range(10, 10, 10), Range(0, 0, 0), Range(0, 0, 0)]
    assert [week.room for week in weeks] == [Room.TOO_FEW, Room.ENOUGH, Room.ENOUGH]


def test_who_misses_waits_again_next_week() -> None:
    weeks = forecast([10, 0], [50, 50], backlog=0, rate=show_rate(0, 10**12))

    assert weeks[1].waiting == Range(10, 10, 10)


def test_a_closed_week_carries_all_it_has() -> None:
    weeks = forecast([5, 5], [0, 20], backlog=3, rate=show_rate(10**12, 0))

    assert weeks[0].left == Range(8, 8, 8)
    assert weeks[0].room is Room.TOO_FEW


def test_a_week_that_is_enough_only_at_one_end_of_its_interval_says_perhaps() -> None:
    """Twenty of forty are expected back after a first week at a rate of about one half; twenty places wait."""
    weeks = forecast([40, 0], [40, 20], backlog=0, rate=show_rate(50, 50))

    assert weeks[1].waiting.low < 20 < weeks[1].waiting.high
    assert weeks[1].room is Room.PERHAPS


def test_the_same_numbers_give_the_same_forecast() -> None:
    first, second = (forecast([30] * 10, [28] * 10, backlog=5, rate=show_rate(90, 10)) for _ in range(2))

    assert first == second


def test_less_knowledge_of_the_rate_widens_the_interval() -> None:
    known, guessed = (
        forecast([60] * 8, [60] * 8, backlog=0, rate=rate)[-1].waiting
        for rate in (show_rate(1800, 200), show_rate(9, 1))
    )

    assert guessed.high - guessed.low > known.high - known.low


@pytest.mark.parametrize(
    ("due", "places", "backlog"), [([1], [], 0), ([-1], [1], 0), ([1], [-1], 0), ([1], [1], -1)]
)
def test_counts_that_cannot_be_are_refused(due: list[int], places: list[int], backlog: int) -> None:
    with pytest.raises(ValueError, match=r"weeks|below zero"):
        forecast(due, places, backlog=backlog, rate=show_rate(1, 1))
