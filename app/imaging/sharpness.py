"""How wide the sharpest edges of an image are.

Theory. An edge seen through blur of variance S has a gradient of Gaussian shape; the sum of its square across the
edge goes with 1 / sqrt(S). Blurring the image once more by a known variance B changes that sum by
``R = sqrt((S + B) / S)``, so ``S = B / (R² - 1)``: a ratio, in which the height of the edge cancels. What the
measuring itself adds (smoothing, taking differences) is subtracted. Noise is kept out by looking only where the
smoother of the two gradients stands well above it, and by subtracting its expected share.

The sums are taken in tiles. Anatomy has soft edges besides sharp ones, so the sharpest quarter of the tiles tells
what the system delivers; a label burned into one corner sharpens only its own tile. Movement along one direction
widens only the edges across it, so the two directions are also measured apart.

The unit is a thousandth of the image's long side, which is the same length on the patient whatever the number of
pixels (about 0.04 mm on the commonest receptor). Method after re-blurring estimates of defocus (Zhuo and Sim,
Pattern Recognition 44:1852, 2011; from memory), with energies in place of single gradients.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.imaging.regions import Mask

Plane = NDArray[np.float32]

REBLUR = 1.0
"""Variance of the second blur, fine pixels squared: taps 1 4 6 4 1."""
OWN = 0.5 + 1 / 3
"""Variance that the method adds before: smoothing by taps 1 2 1 (1/2) and differences over two pixels (1/3)."""
NOISE_KEPT = (0.0586, 0.0118)
"""Variance of white noise left in a gradient after the first and after both blurs, for noise of variance one."""
TILES_ALONG = 7
STRONG = 0.3
"""Share of the strongest gradients (99.5th percentile) from which a pixel counts as on an edge."""
ABOVE_NOISE = 8.0
"""Standard deviations of the noise left after both blurs that an edge must stand above."""
FEWEST_PIXELS = 15
"""Edge pixels a tile needs."""
FEWEST_TILES = 5
"""Tiles with edges that an answer needs."""
SHARPEST = 25
"""Percentile of the tiles."""
WIDEST = 8.0
"""Fine pixels beyond which the ratio is too near one to tell a width."""


@dataclass(frozen=True, kw_only=True)
class Sharpness:
    """Widths (standard deviations) of the sharpest edges, thousandths of the long side; None where too few edges.

    Parameters
    ----------
    overall : of edges in any direction
    across, down : of edges whose grey changes from left to right, and from top to bottom
    tiles : tiles with edges
    """

    overall: float | None
    across: float | None
    down: float | None
    tiles: int


def _smoothed(plane: Plane, taps: tuple[int, ...]) -> Plane:
    """The plane convolved with taps along both axes, without its outermost pixels."""
    for axis in (0, 1):
        length = plane.shape[axis] - len(taps) + 1
        total: Plane | None = None
        for at, tap in enumerate(taps):
            part = plane[at : at + length] if axis == 0 else plane[:, at : at + length]
            total = part * np.float32(tap) if total is None else total + part * np.float32(tap)
        assert total is not None
        plane = total
    weight = float(sum(taps)) ** 2
    result: Plane = plane * np.float32(1 / weight)
    return result


def sharpness_of(fine: Plane, left_out: Mask, side: int, noise: float, long_side: int) -> Sharpness:
    """Measure an image without its frame.

    Parameters
    ----------
    fine : shape (rows, columns), 0 to 1
    left_out : fields whose edges do not count (the rim of unexposed areas)
    side : fine pixels to a field
    noise : standard deviation of a fine pixel's noise, share of the grey range
    long_side : of the whole image, fine pixels
    """
    nothing = Sharpness(overall=None, across=None, down=None, tiles=0)
    if min(fine.shape) < 40:
        return nothing
    first = _smoothed(fine, (1, 2, 1))
    second = _smoothed(first, (1, 4, 6, 4, 1))
    first = first[2:-2, 2:-2]
    half = np.float32(0.5)
    ax1 = (first[1:-1, 2:] - first[1:-1, :-2]) * half
    ay1 = (first[2:, 1:-1] - first[:-2, 1:-1]) * half
    ax2 = (second[1:-1, 2:] - second[1:-1, :-2]) * half
    ay2 = (second[2:, 1:-1] - second[:-2, 1:-1]) * half
    x1, y1, x2, y2 = ax1 * ax1, ay1 * ay1, ax2 * ax2, ay2 * ay2
    strength = x2 + y2
    margin = 4  # one pixel of the first blur, two of the second, one of the differences
    blocked = np.zeros(fine.shape, bool)
    wide = np.repeat(np.repeat(left_out, side, axis=0), side, axis=1)
    blocked[: wide.shape[0], : wide.shape[1]] = wide
    usable = ~blocked[margin:-margin, margin:-margin]
    if not usable.any():
        return nothing
    top = float(np.percentile(strength[usable][::7], 99.5))
    floor = max(STRONG**2 * top, ABOVE_NOISE**2 * 2 * NOISE_KEPT[1] * noise**2, 1e-6)
    edges = usable & (strength >= floor)
    tile = _tiles(strength.shape)
    unit = 1000.0 / long_side
    kept1, kept2 = (share * noise**2 for share in NOISE_KEPT)
    overall, tiles = _width(x1 + y1, strength, edges, tile, (2 * kept1, 2 * kept2))
    across, _ = _width(x1, x2, edges & (x2 > 4 * y2), tile, (kept1, kept2))
    down, _ = _width(y1, y2, edges & (y2 > 4 * x2), tile, (kept1, kept2))

    def told(width: float | None) -> float | None:
        return None if width is None else width * unit

    return Sharpness(overall=told(overall), across=told(across), down=told(down), tiles=tiles)


def _tiles(shape: tuple[int, ...]) -> NDArray[np.intp]:
    """The number of its tile for each pixel."""
    long_side = max(shape)
    rows = np.arange(shape[0]) * TILES_ALONG // long_side
    columns = np.arange(shape[1]) * TILES_ALONG // long_side
    return rows[:, None] * TILES_ALONG + columns[None, :]


def _width(
    before: Plane, after: Plane, edges: Mask, tile: NDArray[np.intp], noise: tuple[float, float]
) -> tuple[float | None, int]:
    """Width of the sharpest edges, fine pixels, and the number of tiles with edges."""
    at = tile[edges]
    size = TILES_ALONG * TILES_ALONG
    count = np.bincount(at, minlength=size)
    one = np.bincount(at, before[edges], minlength=size) - count * noise[0]
    two = np.bincount(at, after[edges], minlength=size) - count * noise[1]
    good = (count >= FEWEST_PIXELS) & (two > 0) & (one > 0)
    if good.sum() < FEWEST_TILES:
        return None, int(good.sum())
    squared = (one[good] / two[good]) ** 2
    variance = np.where(squared > 1.0, REBLUR / np.maximum(squared - 1.0, 1e-9), np.inf) - OWN
    width = np.minimum(np.sqrt(np.maximum(variance, 0.0)), WIDEST)
    return float(np.percentile(width, SHARPEST)), int(good.sum())
