"""Grey levels -> a picture for the screen. The file itself is never changed.

The order of the steps: window, invert, shrink, mirror (left and right change places), turn (clockwise).
"""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from app.imaging.radiograph import Grey, Radiograph

THUMBNAIL_SIDE = 320
"""Pixels: twice the longer side of a mount's frame, for screens of double density."""
TAILS = 0.001
"""Share of the pixels left out at either end of a deep file's levels: dead pixels and burned-in labels."""


def usual_window(grey: Grey) -> tuple[float, float]:
    """The window in which an image is first shown.

    Returns
    -------
    low, high : grey levels shown as black and as white. 0 and 255 for 8 bits, as every viewer shows such a file;
        for 16 bits the levels between which all but a thousandth at either end lie, because raw data often fill a
        narrow band of the container.
    """
    if grey.dtype == np.uint8:
        return 0.0, 255.0
    counts = np.bincount(grey.ravel(), minlength=65536)
    below = np.cumsum(counts)
    total = int(below[-1])
    low = int(np.searchsorted(below, TAILS * total, side="right"))
    high = int(np.searchsorted(below, (1 - TAILS) * total, side="left"))
    return float(low), float(max(high, low + 1))


def window_table(bits: int, window: tuple[float, float], inverted: bool) -> NDArray[np.uint8]:
    """The shown level, 0 to 255, of every level of a container.

    Parameters
    ----------
    bits : 8 or 16
    window : grey levels shown as black and as white, the first lower

    Returns
    -------
    shape (2 ** bits,)

    Raises
    ------
    ValueError
        Where the window has no width.
    """
    low, high = window
    if not high > low:
        raise ValueError(f"a window must reach from a lower to a higher grey level, not from {low} to {high}")
    levels = np.arange(1 << bits, dtype=np.float64)
    shown = np.clip((levels - low) / (high - low), 0.0, 1.0)
    if inverted:
        shown = 1.0 - shown
    return np.rint(shown * 255).astype(np.uint8)


def screen_levels(radiograph: Radiograph) -> NDArray[np.uint8]:
    """The grey levels in the usual window, shape (rows, columns), 0 to 255."""
    if radiograph.grey.dtype == np.uint8:
        return radiograph.grey.astype(np.uint8, copy=False)
    return window_table(radiograph.bits, usual_window(radiograph.grey), False)[radiograph.grey]


def render_png(
    radiograph: Radiograph,
    *,
    max_side: int | None,
    window: tuple[float, float] | None = None,
    inverted: bool = False,
    quarter_turns: int = 0,
    mirrored: bool = False,
) -> bytes:
    """An 8-bit grey PNG without any metadata.

    Parameters
    ----------
    max_side : pixels; the longer side is shrunk to it, never enlarged. None for the file's own size.
    window : grey levels of the file shown as black and as white; None for :func:`usual_window`
    inverted : dark and light change places
    quarter_turns : clockwise; any whole number
    mirrored : left and right change places, before turning

    Raises
    ------
    ValueError
        Where the window has no width.
    """
    window = window or usual_window(radiograph.grey)
    grey = radiograph.grey
    if inverted or radiograph.bits != 8 or window != (0.0, 255.0):
        grey = window_table(radiograph.bits, window, inverted)[grey]
    image = Image.fromarray(grey.astype(np.uint8, copy=False))
    longest = max(image.size)
    if max_side is not None and longest > max_side:
        size = tuple(max(1, round(side * max_side / longest)) for side in image.size)
        image = image.resize((size[0], size[1]), Image.Resampling.LANCZOS, reducing_gap=2.0)
    if mirrored:
        image = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    turn = {1: Image.Transpose.ROTATE_270, 2: Image.Transpose.ROTATE_180, 3: Image.Transpose.ROTATE_90}
    if quarter_turns % 4:
        image = image.transpose(turn[quarter_turns % 4])
    out = io.BytesIO()
    # Built afresh from pixels, so nothing of the file's own text blocks can follow; fast compression, because the
    # picture crosses one room's network once.
    image.save(out, "PNG", compress_level=3)
    return out.getvalue()


def screen_png(radiograph: Radiograph, *, max_side: int | None = THUMBNAIL_SIDE) -> bytes:
    """A PNG in the usual window, small enough for a mount or a list unless told otherwise."""
    return render_png(radiograph, max_side=max_side)
