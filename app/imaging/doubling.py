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
    detail = (small - cv2.GaussianBlur(small, (0, 0), 2.0)) * _window(small.shape[0], small.shape[1])
    power = np.abs(np.fft.rfft2(detail)) ** 2
    around = cv2.GaussianBlur(power.astype(np.float32), (0, 0), 3.0)
    flattened = power / np.sqrt(around + np.float32(1e-9))
    alike = np.fft.irfft2(flattened, s=small.shape)
    if alike[0, 0] <= 0:
        return 0.0
    near = max(4, round(LEAST_SHIFT * SIDE))
    beside = alike / alike[0, 0]
    beside[:near, :near] = beside[:near, -near:] = 0
    beside[-near:, :near] = beside[-near:, -near:] = 0
    return float(beside.max())


@lru_cache(maxsize=64)
def _window(rows: int, columns: int) -> NDArray[np.float32]:
    """A window that fades to the borders, which would otherwise be the strongest detail."""
    return np.asarray(np.hanning(rows)[:, None] * np.hanning(columns)[None], dtype=np.float32)
