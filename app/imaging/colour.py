"""How far a picture is from grey, and whether its colour is one tint or many."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SAMPLE = 60_000
"""Pixels looked at, about: a 95th percentile of so many is sure to a fraction of a level."""
PERCENTILE = 95.0
"""A coloured label or cursor on a grey picture takes less than a twentieth of it."""
TINTS = 16
"""Steps of grey for each of which one tint is allowed."""

TINT_VARIETY = 18.0
"""Variety of hue from which a picture is in real colour. JPEG keeps colour coarsely and leaves a few levels on a
grey or evenly tinted picture; photographs of mouths, rooms and papers have 30 and more."""
STRONGEST_TINT = 110.0
"""Spread beyond which even a single tint is no film base or toned print."""


def is_colour(spread: float, variety: float) -> bool:
    """Whether a picture with this spread and variety is in real colour rather than grey or of one tint."""
    return variety > TINT_VARIETY or spread > STRONGEST_TINT


def spread_of_colour(rgb: NDArray[np.uint8]) -> tuple[float, float]:
    """Spread of red, green and blue, and the variety of hue in it.

    Parameters
    ----------
    rgb : shape (rows, columns, 3), red, green, blue

    Returns
    -------
    spread : 0 to 255; 95 % of the pixels have their three channels within it
    variety : 0 to about 255; 95 % of the pixels lie within it of the usual tint of their grey
    """
    step = max(1, int((rgb.shape[0] * rgb.shape[1] / SAMPLE) ** 0.5))
    sample = rgb[step // 2 :: step, step // 2 :: step].reshape(-1, 3).astype(np.int16)
    spread = float(np.percentile(sample.max(axis=1) - sample.min(axis=1), PERCENTILE))
    if spread == 0.0:
        return 0.0, 0.0
    red, blue = sample[:, 0] - sample[:, 1], sample[:, 2] - sample[:, 1]
    tone = (sample.sum(axis=1) * TINTS) // (3 * 256)
    off = np.zeros(len(sample))
    for each in range(TINTS):
        here = tone == each
        if here.any():
            off[here] = np.maximum(
                np.abs(red[here] - np.median(red[here])), np.abs(blue[here] - np.median(blue[here]))
            )
    return spread, float(np.percentile(off, PERCENTILE))
