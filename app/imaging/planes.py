"""The same image at the three sizes at which it is measured, on one scale of grey.

native
    8-bit levels at the file's own size
fine
    shares of the grey range, 0 black to 1 white, with a long side of 420 pixels (or the file's own where it is
    smaller): each pixel the mean of the native ones under it
fields
    mean and spread of squares of ``fine`` pixels, about 100 along the long side

Eight-bit files, and deep ones that fill their container, are measured as they are shown: how light they are means
something. Raw data that fill a narrow band of a deep container are first stretched between their own ends; nothing
is said then of how light they are, because that is up to whoever shows them.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.display import usual_window, window_table
from app.imaging.radiograph import Radiograph

cv2.setNumThreads(1)
"""One image a core: the callers spread a batch over the cores themselves."""

FINE_SIDE = 420
FIELDS_ALONG = 100
FILLED = 0.6
"""Share of a 16-bit container that the lightest pixels must reach for the levels to be taken as they are."""
NARROW = 0.15
"""Share of the container below which the band is narrow wherever it lies: raw data turned round lie high up."""

Box = tuple[int, int, int, int]
"""x, y, width, height in pixels; x from the left edge, y from the top edge."""


@dataclass(frozen=True, kw_only=True)
class Planes:
    """The three sizes of one image.

    Parameters
    ----------
    native : shape (rows, columns)
    absolute : whether how light the levels are means something
    fine : shape (rows / factor, columns / factor), float32, 0 to 1
    factor : native pixels to one of ``fine``, along either side; 1 or more
    """

    native: NDArray[np.uint8]
    absolute: bool
    fine: NDArray[np.float32]
    factor: float


@dataclass(frozen=True, kw_only=True)
class Fields:
    """Squares of a part of the image.

    Parameters
    ----------
    mean, spread : shape (rows, columns) of fields, float32, 0 to 1; spread is the standard deviation
    side : fine pixels to a field
    """

    mean: NDArray[np.float32]
    spread: NDArray[np.float32]
    side: int


def planes_of(radiograph: Radiograph) -> Planes:
    """The three sizes of a decoded image."""
    grey = radiograph.grey
    absolute = True
    if grey.dtype == np.uint8:
        native = grey.astype(np.uint8, copy=False)
    else:
        low, high = usual_window(grey)
        absolute = high >= FILLED * radiograph.top and high - low >= NARROW * radiograph.top
        if absolute:
            low, high = 0.0, float(radiograph.top)
        native = window_table(16, (low, high), False)[grey]
    factor = max(1.0, max(native.shape) / FINE_SIDE)
    small = native
    if factor > 1:
        size = (max(1, round(native.shape[1] / factor)), max(1, round(native.shape[0] / factor)))
        if factor >= 2:
            # Halving first is three times faster; means of means of whole pixels are the same means.
            rows, columns = native.shape[0] // 2, native.shape[1] // 2
            small = _reduced(native[: 2 * rows, : 2 * columns], (columns, rows))
        small = _reduced(small, size)
    return Planes(
        native=native,
        absolute=absolute,
        fine=small * np.float32(1 / 255.0),
        factor=factor,
    )


def _reduced(levels: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.uint8]:
    """The levels at a smaller width and height, each the mean of what lies under it."""
    return np.asarray(cv2.resize(levels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def fields_of(fine: NDArray[np.float32]) -> Fields:
    """Means and spreads of squares of a plane; a rest too narrow for a square is left out at right and bottom."""
    side = max(2, round(max(fine.shape) / FIELDS_ALONG))
    rows, columns = fine.shape[0] // side, fine.shape[1] // side
    if not rows or not columns:
        nothing = np.zeros((rows, columns), np.float32)
        return Fields(mean=nothing, spread=nothing, side=side)
    whole = np.ascontiguousarray(fine[: rows * side, : columns * side])
    mean = _area_means(whole, rows, columns)
    spread = np.sqrt(np.maximum(_area_means(whole * whole, rows, columns) - mean * mean, 0))
    return Fields(mean=mean, spread=spread, side=side)


def _area_means(plane: NDArray[np.float32], rows: int, columns: int) -> NDArray[np.float32]:
    """Means of rows x columns squares of a plane."""
    return np.asarray(cv2.resize(plane, (columns, rows), interpolation=cv2.INTER_AREA), dtype=np.float32)
