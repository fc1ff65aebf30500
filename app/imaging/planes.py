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

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from app.imaging.display import usual_window, window_table
from app.imaging.radiograph import Radiograph

FINE_SIDE = 420
FIELDS_ALONG = 100
FILLED = 0.6
"""Share of a 16-bit container that the lightest pixels must reach for the levels to be taken as they are."""

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
        absolute = high >= FILLED * radiograph.top
        if absolute:
            low, high = 0.0, float(radiograph.top)
        native = window_table(16, (low, high), False)[grey]
    factor = max(1.0, max(native.shape) / FINE_SIDE)
    small = Image.fromarray(native)
    if factor > 1:
        size = (max(1, round(native.shape[1] / factor)), max(1, round(native.shape[0] / factor)))
        small = small.resize(size, Image.Resampling.BOX)
    return Planes(
        native=native,
        absolute=absolute,
        fine=np.asarray(small, dtype=np.float32) / np.float32(255.0),
        factor=factor,
    )


def fields_of(fine: NDArray[np.float32]) -> Fields:
    """Means and spreads of squares of a plane; a rest too narrow for a square is left out at right and bottom."""
    side = max(2, round(max(fine.shape) / FIELDS_ALONG))
    rows, columns = fine.shape[0] // side, fine.shape[1] // side
    squares = fine[: rows * side, : columns * side].reshape(rows, side, columns, side)
    mean = squares.mean(axis=(1, 3))
    square_mean = np.einsum("abcd,abcd->ac", squares, squares) / np.float32(side * side)
    spread = np.sqrt(np.maximum(square_mean - mean * mean, 0))
    return Fields(mean=mean, spread=spread, side=side)
