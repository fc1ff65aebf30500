"""Control charts: is it still the same process, or has something changed?

A point outside the limits, or a run that chance rarely makes (`run_rules`), is a reason to look. The limits say
what the process has done, not what anybody wants of it: for that see `targets`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from app.core.errors import InputError
from app.core.quality.comparison import Tally
from app.core.quality.run_rules import run_signals

LIMIT_SIGMAS = 3.0
"""Shewhart's limits."""
MOVING_RANGE_D2 = 1.128
"""Mean of the range of two normal values over their standard deviation: 2 / sqrt(pi), as handbooks print it."""


@dataclass(frozen=True, kw_only=True)
class ChartPoint:
    """One period of a chart.

    Parameters
    ----------
    value : what was found; None where nothing was counted
    n : what it was found from
    centre : the centre line
    sigma : standard deviation of ``value`` under an unchanged process; None where nothing was counted
    lower, upper : limits of this point, three standard deviations away; None where nothing was counted
    signals : codes of `run_rules.RULES` that the point breaks
    """

    value: float | None
    n: int
    centre: float
    sigma: float | None
    lower: float | None
    upper: float | None
    signals: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Group:
    """The measurements of one period: their mean, their variance (n - 1), and how many there are."""

    mean: float
    variance: float
    n: int


def p_chart(
    tallies: Sequence[Tally], *, centre: float | None = None, baseline: int | None = None
) -> tuple[ChartPoint, ...]:
    """A chart of shares in which each point has the limits of its own denominator.

    Parameters
    ----------
    tallies : period by period, in order; a period without exposures has no value
    centre : share to hold them against; by default that of all of them, or of the first ``baseline``
    baseline : number of first periods that set the centre line

    Notes
    -----
    Limits at three standard deviations of a binomial share, cut at 0 and 1; run rules on the standardised points.

    References
    ----------
    Montgomery DC, Introduction to Statistical Quality Control (the orange-juice example); NIST/SEMATECH e-Handbook
    6.3.3.2.

    Examples
    --------
    >>> months = [Tally(events=5, exposures=50), Tally(events=9, exposures=90)]
    >>> [round(point.upper, 4) for point in p_chart(months)]
    [0.2273, 0.1949]
    """
    if centre is None:
        counted = tallies[: _checked_baseline(baseline, len(tallies))]
        exposures = sum(tally.exposures for tally in counted)
        centre = sum(tally.events for tally in counted) / exposures if exposures else 0.0
    elif not 0 <= centre <= 1:
        raise InputError("centre", f"{centre} is no share. Give one from 0 to 1")
    values = [tally.events / tally.exposures if tally.exposures else None for tally in tallies]
    sigmas = [sqrt(centre * (1 - centre) / tally.exposures) if tally.exposures else None for tally in tallies]
    return _points(values, [tally.exposures for tally in tallies], centre, sigmas, least=0.0, most=1.0)


def individuals_chart(values: Sequence[float], *, baseline: int | None = None) -> tuple[ChartPoint, ...]:
    """A chart of single measurements; the spread comes from the differences of neighbours.

    Parameters
    ----------
    baseline : number of first values that set centre line and limits; all by default

    Notes
    -----
    Sigma is the mean moving range over 1.128, so that a slow drift does not hide itself in a wide spread.

    References
    ----------
    NIST/SEMATECH e-Handbook 6.3.2.2.
    """
    first = list(values[: _checked_baseline(baseline, len(values))])
    centre = sum(first) / len(first) if first else 0.0
    sigma = _from_neighbours(first)
    return _points(list(values), [1] * len(values), centre, [sigma] * len(values))


def means_chart(groups: Sequence[Group], *, baseline: int | None = None) -> tuple[ChartPoint, ...]:
    """A chart of the means of measurements, each with the limits of its own number.

    Parameters
    ----------
    groups : period by period, in order; ``n`` 0 for a period without measurements
    baseline : number of first periods that set centre line and spread; all by default

    Notes
    -----
    The spread is pooled from within the periods, so that the periods' own differences stand out against it. Where
    no period holds two measurements it comes from the differences of neighbours, as for single measurements.
    """
    first = [group for group in groups[: _checked_baseline(baseline, len(groups))] if group.n > 0]
    number = sum(group.n for group in first)
    centre = sum(group.mean * group.n for group in first) / number if number else 0.0
    degrees = sum(group.n - 1 for group in first)
    if degrees:
        pooled = sum(group.variance * (group.n - 1) for group in first) / degrees
    else:
        pooled = _from_neighbours([group.mean for group in first]) ** 2
    return _points(
        [group.mean if group.n else None for group in groups],
        [group.n for group in groups],
        centre,
        [sqrt(pooled / group.n) if group.n else None for group in groups],
    )


def _from_neighbours(values: Sequence[float]) -> float:
    """Standard deviation from the mean difference of neighbours; 0 for fewer than two."""
    ranges = [abs(after - before) for before, after in pairwise(values)]
    return sum(ranges) / len(ranges) / MOVING_RANGE_D2 if ranges else 0.0


def _checked_baseline(baseline: int | None, count: int) -> int:
    if baseline is None:
        return count
    if baseline < 1:
        raise InputError("baseline", f"{baseline} periods set no centre line. Give 1 or more")
    return min(baseline, count)


def _points(
    values: Sequence[float | None],
    numbers: Sequence[int],
    centre: float,
    sigmas: Sequence[float | None],
    *,
    least: float = float("-inf"),
    most: float = float("inf"),
) -> tuple[ChartPoint, ...]:
    scores = [
        None if value is None or sigma is None else _score(value - centre, sigma)
        for value, sigma in zip(values, sigmas, strict=True)
    ]
    return tuple(
        ChartPoint(
            value=value,
            n=number,
            centre=centre,
            sigma=sigma,
            lower=None if sigma is None else max(least, centre - LIMIT_SIGMAS * sigma),
            upper=None if sigma is None else min(most, centre + LIMIT_SIGMAS * sigma),
            signals=signals,
        )
        for value, number, sigma, signals in zip(values, numbers, sigmas, run_signals(scores), strict=True)
    )


def _score(away: float, sigma: float) -> float:
    """Standard deviations from the centre; without any spread every difference is a change."""
    if sigma > 0:
        return away / sigma
    # What rounding alone makes of an unchanging value is no difference.
    return 0.0 if abs(away) < 1e-12 else float("inf") if away > 0 else float("-inf")
