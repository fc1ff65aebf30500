"""Pictures for the page: 8-bit PNG without any metadata, made from the grey levels."""

from __future__ import annotations

import io

import numpy as np
import numpy.typing as npt
from PIL import Image

from app.imaging.decode import Radiograph

DARKEST_SHARE = 0.001
"""Share of pixels that may fall below black when a 16-bit image is fitted to the screen."""


def screen_levels(radiograph: Radiograph) -> npt.NDArray[np.uint8]:
    """The grey levels as 8 bits.

    Parameters
    ----------
    radiograph : 8-bit levels come back as they are; 16-bit ones are stretched between their own darkest and
        lightest levels (0.1 % at each end may be clipped), because receptors use only a part of the 16 bits

    Returns
    -------
    array (rows, columns), uint8
    """
    if radiograph.bits == 8:
        return radiograph.grey.astype(np.uint8, copy=False)
    counts = np.bincount(radiograph.grey.ravel(), minlength=65536)
    below = np.cumsum(counts)
    low = int(np.searchsorted(below, DARKEST_SHARE * below[-1], side="right"))
    high = int(np.searchsorted(below, (1 - DARKEST_SHARE) * below[-1], side="left"))
    if high <= low:
        return (radiograph.grey >> 8).astype(np.uint8)
    table = np.clip((np.arange(65536) - low) * (255.0 / (high - low)), 0, 255).astype(np.uint8)
    return np.take(table, radiograph.grey)


def screen_png(radiograph: Radiograph, *, max_side: int | None = None) -> bytes:
    """A PNG of the image, made smaller where its longer side exceeds ``max_side`` pixels."""
    picture = Image.fromarray(screen_levels(radiograph))
    if max_side is not None and max(picture.size) > max_side:
        picture.thumbnail((max_side, max_side), Image.Resampling.BOX, reducing_gap=2.0)
    out = io.BytesIO()
    picture.save(out, "PNG", compress_level=1)
    return out.getvalue()
