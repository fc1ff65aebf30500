"""How much single pixels scatter where the image itself is smooth.

Small squares spread over the image are looked at; in each, the difference of the two diagonals of every four
neighbouring pixels removes what varies smoothly (its standard deviation is twice that of a pixel). The quieter
squares are those without fine structure, so a low percentile of them is the noise. Scatter that neighbouring
pixels share (enlarged files) is missed: the number is then too low, never too high.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.order import quantile

SQUARE = 24
"""Pixels along a square looked at."""
ALONG = 11
"""Squares along each side of the image."""
QUIET = 30
"""Percentile of the squares."""
CLIPPED = 0.1
"""Share of pixels at an end of the scale beyond which a square says nothing: clipping hides noise."""


def noise_of(native: NDArray[np.uint8]) -> float:
    """Standard deviation of a pixel's noise, as a share of the grey range, 0 to about 0.3.

    Parameters
    ----------
    native : shape (rows, columns), the image without its frame

    Returns
    -------
    0 for a noiseless image, and where every square is clipped or the image is smaller than one
    """
    rows, columns = native.shape
    if rows <= SQUARE or columns <= SQUARE:
        return 0.0
    tops = np.linspace(0, rows - SQUARE, ALONG).astype(int)
    lefts = np.linspace(0, columns - SQUARE, ALONG).astype(int)
    # The squares side by side as one picture, in which each step below is one operation.
    within = np.arange(SQUARE)
    strips = native[(tops[:, None] + within).ravel()]
    squares = np.take(strips, (lefts[:, None] + within).ravel(), axis=1)
    clipped = 1 - _means(((squares > 0) & (squares < 255)).astype(np.float32))
    kept = clipped <= CLIPPED
    if not kept.any():
        return 0.0
    levels = squares.astype(np.float32)
    cross = np.zeros_like(levels)
    across = cv2.subtract(levels[:, :-1], levels[:, 1:])
    cv2.subtract(across[:-1], across[1:], dst=cross[:-1, :-1])
    # Where two squares meet, the difference is of neither.
    cross[SQUARE - 1 :: SQUARE] = 0
    cross[:, SQUARE - 1 :: SQUARE] = 0
    squared = _means(cv2.multiply(cross, cross))[kept] * (SQUARE / (SQUARE - 1)) ** 2
    return quantile(np.sqrt(squared) / 2, QUIET) / 255.0


def _means(plane: NDArray[Any]) -> NDArray[np.float64]:
    """The mean of each square."""
    return np.asarray(cv2.resize(plane, (ALONG, ALONG), interpolation=cv2.INTER_AREA), dtype=np.float64).ravel()
