"""Order statistics of a sample, by selection instead of sorting."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


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
    return float(np.partition(flat, at)[at])


def middle(values: NDArray[Any]) -> float:
    """The median; of two middle values the lower one."""
    return ranked(values, 50)
