"""How wide the sharpest edges of an image are.

Theory. An edge seen through blur of variance S has a gradient of Gaussian shape; the sum of its square across the
edge goes with 1 / sqrt(S). Blurring the image once more by a known variance B changes that sum by
``R = sqrt((S + B) / S)``, so ``S = B / (R² - 1)``: a ratio, in which the height of the edge cancels. What the
measuring itself adds (smoothing, taking differences) is subtracted. Noise is kept out by looking only where the
smoother of the two gradients stands well above it, and by subtracting its expected share.

The sums are taken in tiles. Anatomy has soft edges besides sharp ones, so the sharpest quarter of the tiles tells
what the system delivers; a label burned into one corner sharpens only its own tile. Movement along one direction
widens only the edges across it, so four directions are also measured apart. There the borders of metal are left
out: grey goes with the logarithm of the radiation, and next to none that is steep however far the metal moved.

The unit is a thousandth of the image's long side, which is the same length on the patient whatever the number of
pixels (about 0.04 mm on the commonest receptor). Method after re-blurring estimates of defocus (Zhuo and Sim,
Pattern Recognition 44:1852, 2011; from memory), with energies in place of single gradients.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.order import quantile, ranked_high
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
MARGIN = 4
"""Pixels along the border that do not count: one of the first blur, two of the second, one of the differences."""
FEWEST_PIXELS = 15
"""Edge pixels a tile needs."""
FEWEST_TILES = 5
"""Tiles with edges that an answer needs."""
SHARPEST = 25
"""Percentile of the tiles."""
METAL, BESIDE = 0.93, 3
"""Grey from which a place is metal (or burnt out), and fine pixels beside it that are its border."""
_HALF = np.float32(np.sqrt(0.5))
"""Share of both slopes, to the right and downward, in one along a slant."""
WIDEST = 8.0
"""Fine pixels beyond which the ratio is too near one to tell a width."""


@dataclass(frozen=True, kw_only=True)
class Sharpness:
    """Widths (standard deviations) of the sharpest edges, thousandths of the long side; None where too few edges.

    Parameters
    ----------
    overall : of edges in any direction
    across, down : of edges whose grey changes from left to right, and from top to bottom
    falling, rising : of edges whose grey changes toward the lower right, and toward the upper right
    tiles : tiles with edges
    """

    overall: float | None
    across: float | None
    down: float | None
    falling: float | None
    rising: float | None
    tiles: int

    @property
    def directions(self) -> tuple[float | None, ...]:
        """Widths of edges across, falling, down and rising."""
        return (self.across, self.falling, self.down, self.rising)


def _smoothed(plane: Plane, taps: tuple[int, ...]) -> Plane:
    """The plane convolved with taps along both axes; its outermost pixels are left to the caller to drop."""
    kernel = np.array(taps, np.float32) / np.float32(sum(taps))
    return np.asarray(cv2.sepFilter2D(plane, cv2.CV_32F, kernel, kernel), dtype=np.float32)


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
    nothing = Sharpness(overall=None, across=None, down=None, falling=None, rising=None, tiles=0)
    if min(fine.shape) < 40:
        return nothing
    first = _smoothed(fine, (1, 2, 1))
    second = _smoothed(first, (1, 4, 6, 4, 1))
    strength = _strength(second)
    # Blocked places are weaker than any.
    if left_out.any():
        most = np.where(left_out, np.float32(-1), np.float32(np.inf))
        wide = cv2.resize(most, None, fx=side, fy=side, interpolation=cv2.INTER_NEAREST)
        within = strength[: wide.shape[0], : wide.shape[1]]
        cv2.min(within, wide, dst=within)
    strength[:MARGIN] = strength[-MARGIN:] = -1
    strength[:, :MARGIN] = strength[:, -MARGIN:] = -1
    sample = strength[::3, ::2]
    sample = sample[sample >= 0]
    if not sample.size:
        return nothing
    top = ranked_high(sample, 99.5)
    floor = max(STRONG**2 * top, ABOVE_NOISE**2 * 2 * NOISE_KEPT[1] * noise**2, 1e-6)
    # Only the pixels on edges are looked at from here on; they are a few in a hundred.
    at = np.flatnonzero(strength >= np.float32(floor))
    x1, y1 = _slopes(first, at)
    x2, y2 = _slopes(second, at)
    tile = _tiles(fine.shape).ravel()[at].astype(np.intp)
    kept1, kept2 = (share * noise**2 for share in NOISE_KEPT)
    overall, tiles = _width(x1 * x1 + y1 * y1, x2 * x2 + y2 * y2, tile, (2 * kept1, 2 * kept2))
    near_metal = cv2.dilate((fine > METAL).view(np.uint8), np.ones((2 * BESIDE + 1, 2 * BESIDE + 1), np.uint8))
    tissue = np.flatnonzero(near_metal.ravel()[at] == 0)
    x1, y1, x2, y2, tile = x1[tissue], y1[tissue], x2[tissue], y2[tissue], tile[tissue]
    # Across and down, and both slants; the slope along each is aside of the other.
    pairs = (
        ((x1, x2), (y1, y2)),
        ((_HALF * (x1 + y1), _HALF * (x2 + y2)), (_HALF * (x1 - y1), _HALF * (x2 - y2))),
    )
    found: list[float | None] = []
    for pair in pairs:
        sizes = [np.abs(two) for _, two in pair]
        for (one, two), own, aside in zip(pair, sizes, reversed(sizes), strict=True):
            along = np.flatnonzero(own > 2 * aside)
            one, two = one[along], two[along]
            found.append(_width(one * one, two * two, tile[along], (kept1, kept2))[0])
    unit = 1000.0 / long_side
    across, down, falling, rising = (None if width is None else width * unit for width in found)
    return Sharpness(
        overall=None if overall is None else overall * unit,
        across=across,
        down=down,
        falling=falling,
        rising=rising,
        tiles=tiles,
    )


def _strength(plane: Plane) -> Plane:
    """Sum of the squares of the slopes; nothing on the outermost pixels."""
    # Fresh memory costs more than the arithmetic: as few planes as can be.
    strength = np.empty_like(plane)
    inner = strength[1:-1, 1:-1]
    cv2.subtract(plane[1:-1, 2:], plane[1:-1, :-2], dst=inner)
    cv2.multiply(inner, inner, dst=inner, scale=0.25)
    y = cv2.subtract(plane[2:, 1:-1], plane[:-2, 1:-1])
    cv2.multiply(y, y, dst=y, scale=0.25)
    cv2.add(inner, y, dst=inner)
    return strength


def _slopes(plane: Plane, at: NDArray[np.intp]) -> tuple[Plane, Plane]:
    """Half the differences over two pixels, across and down, at places off the border."""
    flat, row = plane.ravel(), plane.shape[1]
    half = np.float32(0.5)
    return (flat[at + 1] - flat[at - 1]) * half, (flat[at + row] - flat[at - row]) * half


@lru_cache(maxsize=64)
def _tiles(shape: tuple[int, ...]) -> NDArray[np.uint8]:
    """The number of its tile for each pixel."""
    long_side = max(shape)
    rows = np.arange(shape[0]) * TILES_ALONG // long_side
    columns = np.arange(shape[1]) * TILES_ALONG // long_side
    tiles = (rows[:, None] * TILES_ALONG + columns[None, :]).astype(np.uint8)
    tiles.flags.writeable = False
    return tiles


def _width(
    before: Plane, after: Plane, at: NDArray[np.intp], noise: tuple[float, float]
) -> tuple[float | None, int]:
    """Width of the sharpest edges, fine pixels, and the number of tiles with edges."""
    size = TILES_ALONG * TILES_ALONG
    count = np.bincount(at, minlength=size)
    one = np.bincount(at, before, minlength=size) - count * noise[0]
    two = np.bincount(at, after, minlength=size) - count * noise[1]
    good = (count >= FEWEST_PIXELS) & (two > 0) & (one > 0)
    if good.sum() < FEWEST_TILES:
        return None, int(good.sum())
    squared = (one[good] / two[good]) ** 2
    variance = np.where(squared > 1.0, REBLUR / np.maximum(squared - 1.0, 1e-9), np.inf) - OWN
    width = np.minimum(np.sqrt(np.maximum(variance, 0.0)), WIDEST)
    return quantile(width, SHARPEST), int(good.sum())
