"""Whether an image shows the same thing twice, a little apart: a receptor exposed twice in nearly the same place.

The image is compared with itself moved by every amount at once (its autocorrelation, from the power spectrum).
Every image is like itself unmoved; neighbouring teeth make it a little like itself moved by one tooth; a second
exposure of the region makes it strongly so, at one place. Fine structure alone is used, and the spectrum is
flattened, so that the likeness comes from many details and not from one strong edge.

Two exposures of unlike regions have no such mark. Where edges cross, and how often, does not part them from single
images with overlapping roots (tried and dropped), so they are not told.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

SIDE = 256
"""Pixels along the long side at which the image is compared with itself."""
LEAST_SHIFT = 0.03
"""Share of the long side: nearer than this every image is like itself."""


def self_likeness(fine: NDArray[np.float32]) -> float:
    """Greatest likeness of an image to itself moved aside, 0 to 1.

    Parameters
    ----------
    fine : shape (rows, columns), 0 to 1, without its frame
    """
    factor = max(fine.shape) / SIDE
    size = (max(16, round(fine.shape[1] / factor)), max(16, round(fine.shape[0] / factor)))
    small = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    rows, columns = small.shape
    detail = cv2.multiply(cv2.subtract(small, cv2.GaussianBlur(small, (0, 0), 2.0)), _window(rows, columns))
    power = _power(np.asarray(cv2.dft(detail), dtype=np.float32))
    around = cv2.GaussianBlur(power, (0, 0), 3.0)
    flattened = power / np.sqrt(around + np.float32(1e-9))
    alike = cv2.idft(_packed(flattened, columns))
    strongest = float(alike[0, 0])
    if strongest <= 0:
        return 0.0
    near = max(4, round(LEAST_SHIFT * SIDE))
    alike[:near, :near] = alike[:near, -near:] = 0
    alike[-near:, :near] = alike[-near:, -near:] = 0
    return float(alike.max() / strongest)


@lru_cache(maxsize=64)
def _window(rows: int, columns: int) -> NDArray[np.float32]:
    """A window that fades to the borders, which would otherwise be the strongest detail."""
    return np.asarray(np.hanning(rows)[:, None] * np.hanning(columns)[None], dtype=np.float32)


def _power(packed: NDArray[np.float32]) -> NDArray[np.float32]:
    """Squares of a packed spectrum, shape (rows, columns // 2 + 1).

    The spectrum of a real image is packed into as many reals (OpenCV documentation of ``dft``, "CCS-packed"): the
    first column, and the last one of an even number, hold the real and imaginary parts of half of their own rows;
    between them the two parts stand side by side.
    """
    rows, columns = packed.shape
    pairs = (columns - 1) // 2
    power = np.empty((rows, columns // 2 + 1), np.float32)
    squared = packed * packed
    np.add(squared[:, 1 : 2 * pairs : 2], squared[:, 2 : 2 * pairs + 1 : 2], out=power[:, 1 : pairs + 1])
    for at, place in _alone(columns):
        own, half = squared[:, at], (rows - 1) // 2
        power[0, place] = own[0]
        if rows % 2 == 0:
            power[rows // 2, place] = own[-1]
        sums = own[1 : 2 * half : 2] + own[2 : 2 * half + 1 : 2]
        power[1 : half + 1, place] = sums
        power[rows - half :, place] = sums[::-1]
    return power


def _packed(power: NDArray[np.float32], columns: int) -> NDArray[np.float32]:
    """A spectrum without imaginary parts, packed as above."""
    rows, pairs = len(power), (columns - 1) // 2
    packed = np.zeros((rows, columns), np.float32)
    packed[:, 1 : 2 * pairs : 2] = power[:, 1 : pairs + 1]
    for at, place in _alone(columns):
        own, half = power[:, place], (rows - 1) // 2
        packed[0, at] = own[0]
        if rows % 2 == 0:
            packed[-1, at] = own[rows // 2]
        packed[1 : 2 * half : 2, at] = (own[1 : half + 1] + own[: rows - half - 1 : -1]) / 2
    return packed


def _alone(columns: int) -> list[tuple[int, int]]:
    """Packed columns that hold half of the rows of one column, and which column of the spectrum that is."""
    return [(0, 0)] if columns % 2 else [(0, 0), (columns - 1, columns // 2)]
