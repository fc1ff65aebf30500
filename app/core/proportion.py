"""A share of a count with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist


@dataclass(frozen=True, kw_only=True)
class Interval:
    """A share and between what it lies, each 0 to 1."""

    share: float
    low: float
    high: float


def wilson(successes: int, n: int, confidence: float = 0.95) -> Interval | None:
    """Wilson's score interval of a share (Wilson, J Am Stat Assoc 1927); None for no cases.

    Examples
    --------
    >>> interval = wilson(8, 10)
    >>> round(interval.low, 3), round(interval.high, 3)
    (0.49, 0.943)
    """
    if n <= 0:
        return None
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = successes / n
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    reach = z / (1 + z * z / n) * sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    return Interval(share=share, low=max(0.0, middle - reach), high=min(1.0, middle + reach))
