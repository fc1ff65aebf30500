"""Whether there is room for the recalls to come: what falls due each week against the places of the rooms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, sqrt

import numpy as np

CONFIDENCE = 0.95
Z = 1.959963984540054
"""The 97.5 per cent point of the normal distribution."""
PATHS = 1000
"""Courses of the year that are tried: 25 of them lie beyond each end of a 95 per cent interval."""
SEED = 20260105
"""Fixed, so that the same numbers always give the same forecast."""


@dataclass(frozen=True, kw_only=True)
class ShowRate:
    """How many of those who were booked came.

    Parameters
    ----------
    kept, missed : appointments kept and missed, counts
    low, high : ends of the 95 per cent interval of the rate, shares; 0 and 1 where nothing is known
    """

    kept: int
    missed: int
    low: float
    high: float

    @property
    def estimate(self) -> float | None:
        """The share that came; None where nobody was booked yet."""
        booked = self.kept + self.missed
        return self.kept / booked if booked else None


def show_rate(kept: int, missed: int) -> ShowRate:
    """The show rate with its interval after Wilson (1927), which holds for small counts and near 0 and 1.

    Examples
    --------
    >>> rate = show_rate(81, 182)
    >>> round(rate.low, 4), round(rate.high, 4)
    (0.2553, 0.3662)
    """
    booked = kept + missed
    if not booked:
        return ShowRate(kept=0, missed=0, low=0.0, high=1.0)
    share = kept / booked
    centre = share + Z * Z / (2 * booked)
    half = Z * sqrt(share * (1 - share) / booked + Z * Z / (4 * booked * booked))
    scale = 1 + Z * Z / booked
    # At the ends the formula gives 0 and 1 exactly, arithmetic only nearly.
    low = 0.0 if not kept else (centre - half) / scale
    high = 1.0 if not missed else (centre + half) / scale
    return ShowRate(kept=kept, missed=missed, low=low, high=high)


class Room(StrEnum):
    """Whether a week has places enough."""

    ENOUGH = "enough"
    """Places for everybody who waits, even at the upper end of the interval."""
    PERHAPS = "perhaps"
    """Places enough at the lower end of the interval, too few at the upper."""
    TOO_FEW = "too_few"
    """Too few places even at the lower end."""


@dataclass(frozen=True, order=True)
class Range:
    """A number of people: its median and the 95 per cent prediction interval, whole numbers."""

    low: int
    middle: int
    high: int


@dataclass(frozen=True, kw_only=True)
class WeekForecast:
    """One week.

    Parameters
    ----------
    due : recalls on record that fall due in it
    places : how many appointments the room has for them
    waiting : those due, with those left over from before
    seen : those who come to their appointment
    left : those who still wait when the week is over: no place, or missed
    room : whether the places are enough for all who wait
    """

    due: int
    places: int
    waiting: Range
    seen: Range
    left: Range
    room: Room


def forecast(
    due: Sequence[int],
    places: Sequence[int],
    *,
    backlog: int,
    rate: ShowRate,
    paths: int = PATHS,
    seed: int = SEED,
) -> tuple[WeekForecast, ...]:
    """How a year of recalls goes through the rooms, week by week.

    Everybody who waits is booked while there are places. Of those booked, each comes with the show rate (a
    binomial count); who misses, or found no place, waits in the next week. The rate itself is not known exactly:
    each course of the year has its own, drawn from what the kept and missed appointments say of it (Beta
    distribution, Jeffreys' prior), so that the intervals hold both kinds of chance. Recalls that arise from the
    visits themselves are not in it.

    Parameters
    ----------
    due, places : for each week, counts; as many of one as of the other
    backlog : recalls that were due before the first week and are not booked

    Raises
    ------
    ValueError
        The weeks do not match, or a count is negative.
    """
    if len(due) != len(places):
        raise ValueError(f"{len(due)} weeks of recalls and {len(places)} weeks of places")
    if backlog < 0 or any(count < 0 for count in (*due, *places)):
        raise ValueError("a count below zero")
    chance = np.random.default_rng(seed)
    rates = chance.beta(rate.kept + 0.5, rate.missed + 0.5, size=paths)
    left = np.full(paths, backlog, dtype=np.int64)
    weeks = []
    for fall_due, room in zip(due, places, strict=True):
        waiting = left + fall_due
        seen = chance.binomial(np.minimum(waiting, room), rates)
        left = waiting - seen
        spread = _range(waiting)
        weeks.append(
            WeekForecast(
                due=fall_due,
                places=room,
                waiting=spread,
                seen=_range(seen),
                left=_range(left),
                room=_room(spread, room),
            )
        )
    return tuple(weeks)


def _range(counts: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Range:
    outside = (1 - CONFIDENCE) / 2
    # Ends that were really met, so that an interval of people is one of whole people.
    ordered = np.sort(counts)
    low, middle, high = (int(ordered[ceil(len(ordered) * share) - 1]) for share in (outside, 0.5, 1 - outside))
    return Range(low, middle, high)


def _room(waiting: Range, places: int) -> Room:
    if waiting.high <= places:
        return Room.ENOUGH
    return Room.PERHAPS if waiting.low <= places else Room.TOO_FEW
