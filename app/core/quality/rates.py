"""A share of exposures with its uncertainty.

Small counts say little: 0 of 5 is no proof of perfection. Every share is therefore shown with its interval, and
is called small below the sample that published guidance asks for.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from app.core.errors import InputError

SMALL_DENOMINATOR = 100
"""Below this a rate is said to be small: the least sample of the Guidance Notes for Dental Practitioners on the
Safe Use of X-ray Equipment, 2nd ed. 2020 (in shared/published/quality_targets.json with its grade)."""


@dataclass(frozen=True)
class Interval:
    """Both ends of an interval: shares from 0 to 1, or ratios from 0 up."""

    low: float
    high: float

    def rounded(self, digits: int) -> tuple[float, float]:
        """Both ends, rounded."""
        return round(self.low, digits), round(self.high, digits)

    def holds(self, value: float) -> bool:
        """Whether the value lies inside, the ends included."""
        return self.low <= value <= self.high


@dataclass(frozen=True, kw_only=True)
class Rate:
    """A share with what it was counted from.

    Parameters
    ----------
    interval : Wilson interval of the share, 0 to 1; None where the denominator is 0
    small : the denominator lies below `SMALL_DENOMINATOR`
    """

    numerator: int
    denominator: int
    interval: Interval | None
    small: bool

    @property
    def share(self) -> float | None:
        """0 to 1; None where the denominator is 0."""
        return self.numerator / self.denominator if self.denominator else None


def normal_quantile(share: float) -> float:
    """The point below which that share of the standard normal distribution lies.

    Examples
    --------
    >>> round(normal_quantile(0.975), 6)
    1.959964
    """
    return NormalDist().inv_cdf(share)


def two_sided(confidence: float) -> float:
    """The normal quantile of a two-sided interval.

    Raises
    ------
    InputError
        Unless ``confidence`` lies between 0 and 1.
    """
    if not 0.0 < confidence < 1.0:
        raise InputError("confidence", f"{confidence} is no confidence. Give a share between 0 and 1, like 0.95")
    return normal_quantile((1 + confidence) / 2)


def wilson(successes: int, n: int, confidence: float = 0.95) -> Interval | None:
    """Interval for a share counted as ``successes`` of ``n``.

    Returns
    -------
    Interval or None
        Shares, 0 to 1, never a point even at 0 successes; None where nothing was counted (``n`` is 0).

    Raises
    ------
    InputError
        When the counts cannot be: names which one, and its value.

    Notes
    -----
    Wilson score interval, two-sided, no continuity correction: coverage is right on average, somewhat below
    ``confidence`` for some small counts. Not for comparing operators: see `comparison`.

    References
    ----------
    Wilson EB, J Am Stat Assoc 1927;22:209-212 (citation from memory). Worked values: Newcombe RG, Stat Med
    1998;17:857-872, Table I, method 3.

    Examples
    --------
    >>> wilson(0, 20).rounded(4)
    (0.0, 0.1611)
    """
    if n < 0:
        raise InputError("denominator", f"{n} things cannot be counted. Count from 0 up")
    if not 0 <= successes <= n:
        raise InputError("numerator", f"{successes} of {n} cannot be. Count from 0 to {n}")
    z = two_sided(confidence)
    if n == 0:
        return None
    share, z2 = successes / n, z * z
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = z / (1 + z2 / n) * sqrt(share * (1 - share) / n + z2 / (4 * n * n))
    # At 0 and at n the formula reaches the end exactly; rounding must not step beyond it.
    low = 0.0 if successes == 0 else max(0.0, middle - half)
    high = 1.0 if successes == n else min(1.0, middle + half)
    return Interval(low, high)


def rate(numerator: int, denominator: int, confidence: float = 0.95) -> Rate:
    """The share with its Wilson interval, and whether the numbers are small."""
    return Rate(
        numerator=numerator,
        denominator=denominator,
        interval=wilson(numerator, denominator, confidence),
        small=denominator < SMALL_DENOMINATOR,
    )
