"""Fair comparison: what was observed against what the same views would have brought at the practice's own rates.

Operators face different views. Indirect standardisation asks: had this operator's views, template by template and
slot by slot, been repeated as often as the practice repeats them, how many would that have been? Observed over
expected is 1 for the usual; its interval and the funnel say how far chance alone goes.

The counts are taken as Poisson. A share of exposures varies a little less than that (by the factor 1 - share), so
intervals and limits are slightly too wide: nobody is called different too soon. Each operator is part of the
practice that they are compared with, which pulls the ratio towards 1 a little.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import exp, lgamma, log, sqrt

from app.core.errors import InputError
from app.core.quality.rates import Interval, two_sided

EXACT_TO = 200
"""Observed counts up to which the Poisson interval is exact; beyond, Byar's differs by under 0.1 %."""

MANY = 1000
"""Expected counts beyond which quantiles come from an expansion."""


@dataclass(frozen=True, kw_only=True)
class Tally:
    """Events among exposures, of one stratum or one period."""

    events: int
    exposures: int

    def __post_init__(self) -> None:
        if not 0 <= self.events <= self.exposures:
            raise InputError("tally", f"{self.events} events of {self.exposures} exposures cannot be")

    def __add__(self, other: Tally) -> Tally:
        return Tally(events=self.events + other.events, exposures=self.exposures + other.exposures)


@dataclass(frozen=True, kw_only=True)
class ObservedExpected:
    """Observed events against those expected at standard rates.

    Parameters
    ----------
    expected : sum over strata of own exposures times the standard's rate
    ratio : observed / expected, 1 for the usual; None where nothing was to be expected
    interval : of the ratio; None where ``ratio`` is
    standardised : the ratio times the standard's overall rate: a share that may be compared with it; None where
        ``ratio`` is
    """

    observed: int
    expected: float
    exposures: int
    ratio: float | None
    interval: Interval | None
    standardised: float | None


def expected_events(own: Mapping[str, Tally], standard: Mapping[str, Tally]) -> float:
    """How many events the standard's rates would bring among one's own exposures.

    Raises
    ------
    InputError
        A stratum with exposures that the standard does not know.
    """
    total = 0.0
    for stratum, tally in own.items():
        if tally.exposures == 0:
            continue
        known = standard.get(stratum)
        if known is None or known.exposures == 0:
            raise InputError("standard", f'no rate for "{stratum}". The standard must hold every stratum compared')
        total += tally.exposures * known.events / known.exposures
    return total


def observed_against_expected(
    own: Mapping[str, Tally], standard: Mapping[str, Tally], confidence: float = 0.95
) -> ObservedExpected:
    """Indirect standardisation: observed events against those expected at the standard's rates.

    Parameters
    ----------
    own, standard : by stratum (template and slot); the standard holds every stratum of one's own
    confidence : of the interval of the ratio

    References
    ----------
    Breslow NE, Day NE, Statistical Methods in Cancer Research II, IARC 1987, ch. 2 (from memory): standardised
    ratio with the exact Poisson interval.

    Examples
    --------
    >>> own, practice = Tally(events=6, exposures=40), Tally(events=30, exposures=400)
    >>> found = observed_against_expected({"a": own}, {"a": practice})
    >>> found.expected, found.ratio, found.interval.rounded(3)
    (3.0, 2.0, (0.734, 4.353))
    """
    observed = sum(tally.events for tally in own.values())
    exposures = sum(tally.exposures for tally in own.values())
    expected = expected_events(own, standard)
    if expected <= 0:
        return ObservedExpected(
            observed=observed, expected=0.0, exposures=exposures, ratio=None, interval=None, standardised=None
        )
    whole = poisson_interval(observed, confidence)
    all_events = sum(tally.events for tally in standard.values())
    all_exposures = sum(tally.exposures for tally in standard.values())
    return ObservedExpected(
        observed=observed,
        expected=expected,
        exposures=exposures,
        ratio=observed / expected,
        interval=Interval(whole.low / expected, whole.high / expected),
        standardised=observed / expected * all_events / all_exposures,
    )


def poisson_interval(observed: int, confidence: float = 0.95) -> Interval:
    """Interval for the mean of a Poisson count.

    Notes
    -----
    Exact (Garwood 1936) to `EXACT_TO`, by halving; Byar's approximation beyond (both as in Breslow and Day 1987,
    from memory; agrees with the chi-squared quantiles of scipy).

    Examples
    --------
    >>> poisson_interval(10).rounded(3)
    (4.795, 18.39)
    """
    if observed < 0:
        raise InputError("observed", f"{observed} events cannot be. Count from 0 up")
    z = two_sided(confidence)
    tail = (1 - confidence) / 2
    if observed > EXACT_TO:
        above = observed + 1
        low = observed * (1 - 1 / (9 * observed) - z / (3 * sqrt(observed))) ** 3
        high = above * (1 - 1 / (9 * above) + z / (3 * sqrt(above))) ** 3
        return Interval(low, high)
    furthest = observed + 10 * z * sqrt(observed + 1) + 10 * z * z + 10
    low = 0.0
    if observed > 0:
        # P(at least observed) grows with the mean, P(at most observed) falls.
        low = _crossing(lambda mean: 1 - poisson_below(observed - 1, mean) < tail, 0.0, float(observed))
    high = _crossing(lambda mean: poisson_below(observed, mean) > tail, float(observed), furthest)
    return Interval(low, high)


def _crossing(still: Callable[[float], bool], low: float, high: float) -> float:
    """Where a condition that holds at ``low`` ends, by halving."""
    for _ in range(80):
        middle = (low + high) / 2
        if still(middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def poisson_below(count: int, mean: float) -> float:
    """Chance of at most ``count`` events where ``mean`` are expected."""
    if count < 0:
        return 0.0
    if mean <= 0:
        return 1.0
    total = term = poisson_at(count, mean)
    # Downwards from the count; past the mean the terms only fall, and soon add nothing.
    for k in range(count, 0, -1):
        term *= k / mean
        total += term
        if k < mean and term < 1e-18 * total:
            break
    return min(1.0, total)


def poisson_at(count: int, mean: float) -> float:
    """Chance of exactly ``count`` events where ``mean``, more than 0, are expected."""
    return exp(count * log(mean) - mean - lgamma(count + 1))


def funnel_limits(expected: float, confidence: float) -> Interval | None:
    """Limits for observed / expected where ``expected`` events are expected and chance alone is at work.

    Parameters
    ----------
    expected : more than 0; None is answered otherwise
    confidence : 0.95 and 0.998 by custom: two and three standard deviations

    Notes
    -----
    Poisson quantiles, interpolated between whole counts so that the funnel has no steps.

    References
    ----------
    Spiegelhalter DJ, Funnel plots for comparing institutional performance, Stat Med 2005;24:1185-1202, appendix
    (from memory).
    """
    z = two_sided(confidence)
    if expected <= 0:
        return None
    tail = (1 - confidence) / 2
    return Interval(
        max(0.0, _poisson_quantile(tail, expected, -z)) / expected,
        _poisson_quantile(1 - tail, expected, z) / expected,
    )


def _poisson_quantile(share: float, mean: float, z: float) -> float:
    """The count below which that share lies, interpolated between whole counts."""
    if mean > MANY:
        # The Cornish-Fisher expansion; its error is far below a thousandth of the ratio here.
        return mean + z * sqrt(mean) + (z * z - 1) / 6 - 0.5
    count = max(0, int(mean + z * sqrt(mean) - 3))
    below = poisson_below(count - 1, mean)
    while below >= share and count > 0:
        count -= 1
        below = poisson_below(count - 1, mean)
    here = below + poisson_at(count, mean)
    while here < share:
        count += 1
        below, here = here, here + poisson_at(count, mean)
    return count - (here - share) / (here - below)
