"""Order statistics of a sample, by selection instead of sorting."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

MANY = 2048
"""Values from which it pays to look at a few of them first."""


def ranked(values: NDArray[Any], percent: float) -> float:
    """The member below or at which so many per cent of the values lie; of two neighbours the lower one.

    A measurement asks for dozens of these on a few thousand values each. Interpolating between neighbours would
    cost more than the measuring and change nothing that a threshold could see.

    Examples
    --------
    >>> ranked(np.array([5.0, 1.0, 3.0]), 50)
    3.0
    """
    flat = values.ravel()
    at = int((flat.size - 1) * percent / 100)
    if flat.size >= MANY:
        # Every eighth value says between which levels the answer lies, unless the values are in some odd order.
        few = np.sort(flat[::8])
        near, aside = int((few.size - 1) * percent / 100), few.size // 16
        low, high = few[max(0, near - aside)], few[min(few.size - 1, near + aside)]
        between = flat[(flat >= low) & (flat <= high)]
        place = at - int(np.count_nonzero(flat < low))
        if 0 <= place < between.size:
            return float(np.partition(between, place)[place])
    return float(np.partition(flat, at)[at])


def ranked_high(values: NDArray[Any], percent: float) -> float:
    """The same as :func:`ranked`, quicker for a percentage near 100 of many values.

    A few of the values say above which level the answer surely lies, and only what is above is ranked.

    Examples
    --------
    >>> ranked_high(np.arange(10_000.0), 99.5) == ranked(np.arange(10_000.0), 99.5)
    True
    """
    flat = values.ravel()
    if flat.size < MANY:
        return ranked(flat, percent)
    few = flat[::8]
    upper = flat[flat >= ranked(few, max(0.0, 100 - 5 * (100 - percent)))]
    from_top = flat.size - 1 - int((flat.size - 1) * percent / 100)
    if upper.size <= from_top:
        return ranked(flat, percent)
    at = upper.size - 1 - from_top
    return float(np.partition(upper, at)[at])


def quantile(values: NDArray[np.float64], percent: float) -> float:
    """A percentile of a few values with interpolation between neighbours, without the general one's overhead.

    Examples
    --------
    >>> quantile(np.array([5.0, 1.0, 3.0]), 25)
    2.0
    """
    ordered = np.sort(values)
    place = (len(ordered) - 1) * percent / 100
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))


def middle(values: NDArray[Any]) -> float:
    """The median; of two middle values the lower one."""
    return ranked(values, 50)
