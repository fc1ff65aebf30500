"""How much single pixels scatter where the image itself is smooth.

Small squares spread over the image are looked at; in each, the difference of the two diagonals of every four
neighbouring pixels removes what varies smoothly (its standard deviation is twice that of a pixel). The quieter
squares are those without fine structure, so a low percentile of them is the noise. Scatter that neighbouring
pixels share (enlarged files) is missed: the number is then too low, never too high.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
    windows = np.lib.stride_tricks.sliding_window_view(native, (SQUARE, SQUARE))
    squares = windows[tops[:, None], lefts[None, :]].reshape(-1, SQUARE, SQUARE)
    clipped = ((squares == 0) | (squares == 255)).mean(axis=(1, 2))
    squares = squares[clipped <= CLIPPED].astype(np.float32)
    if len(squares) == 0:
        return 0.0
    cross = squares[:, :-1, :-1] - squares[:, :-1, 1:] - squares[:, 1:, :-1] + squares[:, 1:, 1:]
    scatter = np.sqrt((cross * cross).mean(axis=(1, 2))) / 2
    return float(np.percentile(scatter, QUIET)) / 255.0
