"""Whether two images laid on one another agree as copies do: nothing wants to shift, and the noise is one.

A copy shows the same rays. Another exposure shows crowns, roots and bone from another place: what lies near the
receptor and what lies far from it move by different amounts (parallax). After the best scales and shifts, parts of
the image still want to move, some one way and some another. Ten millimetres of depth move by 0.17 mm for each
degree that the tube turns, and by 0.03 mm for each millimetre that tube and receptor move together at 300 mm.

If the tube stood in the same place, nothing moves. Then only the noise tells: each exposure has its own quanta, a
copy those of its original. Compression and shrinking take noise away and add little, so what is asked is not
only how alike the finest detail is but how much of the finest detail *of the image that has less of it* is held by
the other: nearly all in a copy, whatever was done to it; little in another exposure. It is asked where the image
is quiet, because edges and texture are the same anatomy in both.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.registration import Numbers, Plane, reached, sampled, sampled_sharply, slopes, steps_to_fit

FINE_SIDE = 384
"""Most pixels along a side at which images are laid on one another: a tenth of a millimetre on most receptors."""
LEAST_SIDE = 96
"""Pixels along a side below which there is no fine detail to look at."""
ROUNDS = 3
TILES = 8
"""Tiles along a side, each of which tells how far it would still shift."""
TONE_STEPS = 48
"""Grey steps, each holding as many pixels, by which one image is brought to the greys of the other."""
QUIET = 0.3
"""Share of the area, the one with the faintest slopes, in which noise is compared."""
NOISE_BLUR = 0.7
"""Standard deviation, pixels, of the blur that is taken off, twice: what is left is the noise of single pixels."""
ENDS = (0.03, 0.97)
"""Greys between which noise is not cut off by an end of the scale."""
FEWEST = 1500
"""Quiet pixels that an answer needs: chance alone then gives 0.03."""
STRAY = 3.0
"""Standard deviations at which detail is cut off: a few strong marks must not speak for the noise."""


@dataclass(frozen=True)
class CloseFit:
    """How closely two images agree.

    Parameters
    ----------
    bent : 75th percentile of the shifts that tiles of the image still ask for, 384ths of the side
    held : share of the finest detail of the image that has less of it that the other has too; about 0 to 1
    noise : correlation of the finest detail, 0 to 1
    """

    bent: float
    held: float
    noise: float


def close_fit(fixed: Plane, moving: Plane, numbers: Numbers) -> CloseFit | None:
    """The agreement after a last, fine registration; None where the images hardly meet.

    Parameters
    ----------
    fixed, moving : the same square shape, greys 0 to 1
    numbers : scales along x and y and shifts along x and y at which the coarser fit ended
    """
    side = fixed.shape[0]
    target, soft = blurred(ranked(fixed), 1.0), blurred(ranked(moving), 1.0)
    if float(np.corrcoef(target.ravel()[::7], sampled(soft, numbers).ravel()[::7])[0, 1]) < 0:
        soft = 1 - soft
    for _ in range(ROUNDS):
        seen = _toned(sampled(soft, numbers), target)
        numbers = numbers + np.clip(steps_to_fit(target, seen, reached(side, numbers)), -0.01, 0.01)
    inside = reached(side, numbers)
    if inside.mean() < 0.2:
        return None
    seen = _toned(sampled(soft, numbers), target)
    middle: Plane = ((target + seen) / 2).astype(np.float32)
    slope_x, slope_y = slopes(middle)
    rest = (target - seen) * inside
    rest = (rest - blurred(rest, 8.0 * side / FINE_SIDE)) * inside
    bent = _bent(slope_x * inside, slope_y * inside, rest, inside)
    held, noise = _shared(fixed, moving, numbers, inside, np.hypot(slope_x, slope_y))
    return CloseFit(bent * FINE_SIDE / side, held, noise)


def blurred(plane: Plane, sigma: float) -> Plane:
    """The plane under a Gaussian blur; the rim goes on beyond itself."""
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE), dtype=np.float32)


def ranked(plane: Plane) -> Plane:
    """Each grey's share of pixels below it, so that window and gamma no longer count."""
    levels = np.clip(plane * 4095, 0, 4095).astype(np.uint16)
    counts = np.bincount(levels.ravel(), minlength=4096)
    return ((np.cumsum(counts) - counts / 2) / levels.size).astype(np.float32)[levels]


def _toned(moving: Plane, fixed: Plane) -> Plane:
    """The moving plane in the ranks of the fixed one: a crop changes the ranks of all greys."""
    edges = np.unique(np.quantile(moving[::4, ::4], np.linspace(0, 1, TONE_STEPS + 1)))
    if len(edges) < 3:
        return moving
    step = np.clip(np.searchsorted(edges, moving[::2, ::2].ravel(), side="right") - 1, 0, len(edges) - 2)
    count = np.bincount(step, minlength=len(edges) - 1)
    filled = count > 0
    became = np.bincount(step, fixed[::2, ::2].ravel(), len(edges) - 1)[filled] / count[filled]
    was = np.bincount(step, moving[::2, ::2].ravel(), len(edges) - 1)[filled] / count[filled]
    # A table of the curve is faster than interpolating each pixel.
    table = np.interp(np.arange(4096) / 4095, was, became).astype(np.float32)
    return table[np.clip(moving * 4095, 0, 4095).astype(np.uint16)]


def _bent(slope_x: Plane, slope_y: Plane, rest: Plane, inside: NDArray[np.bool_]) -> float:
    """How far tiles still want to shift, pixels, by one step of least squares in each."""
    size = rest.shape[0] // TILES
    whole = size * TILES

    def sums(values: Plane) -> NDArray[np.float64]:
        tiles = values[:whole, :whole].reshape(TILES, size, TILES, size)
        return np.asarray(tiles.sum(axis=(1, 3)), dtype=np.float64).ravel()

    xx, xy, yy = sums(slope_x * slope_x), sums(slope_x * slope_y), sums(slope_y * slope_y)
    wx, wy = sums(slope_x * rest), sums(slope_y * rest)
    full = sums(inside.astype(np.float32)) > size * size / 2
    area = xx * yy - xy * xy
    weak = np.minimum(xx, yy)
    # Along a straight edge a shift cannot be seen, and where nothing stands out it is only noise.
    clear = full & (area > 0.1 * xx * yy) & (weak >= 0.7 * np.median(weak[full] if full.any() else weak))
    if clear.sum() < 4:
        return 0.0
    x = (yy[clear] * wx[clear] - xy[clear] * wy[clear]) / area[clear]
    y = (xx[clear] * wy[clear] - xy[clear] * wx[clear]) / area[clear]
    return float(np.percentile(np.hypot(x, y), 75))


def _shared(
    fixed: Plane, moving: Plane, numbers: Numbers, inside: NDArray[np.bool_], slope: Plane
) -> tuple[float, float]:
    """How much of the finest detail is the same in both; 0 where there is too little to tell."""
    seen = sampled_sharply(moving, numbers)
    soft, other_soft = blurred(fixed, 1.5), blurred(seen, 1.5)
    lowest, highest = ENDS
    open_ = inside & (soft > lowest) & (soft < highest) & (other_soft > lowest) & (other_soft < highest)
    if open_.sum() < FEWEST / QUIET:
        return 0.0, 0.0
    quiet = open_ & (slope <= np.quantile(slope[open_][::5], QUIET))
    was, became = other_soft[open_][::5], soft[open_][::5]
    if float(was.std()) < 1e-3:
        return 0.0, 0.0
    # Noise is stretched by the slope of the tone curve between the two; where greys are exchanged it is negative.
    gain = np.polynomial.Polynomial.fit(was, became, 3).deriv()(other_soft[quiet]).astype(np.float32)
    one, other = _finest(fixed)[quiet], _finest(seen)[quiet] * gain
    one, other = (np.clip(each, -stray, stray) for each, stray in ((one, _stray(one)), (other, _stray(other))))
    first, second, both = (float((a * b).mean()) for a, b in ((one, one), (other, other), (one, other)))
    if min(first, second) < 1e-12:
        return 0.0, 0.0
    return both / min(first, second), both / float(np.sqrt(first * second))


def _finest(plane: Plane) -> Plane:
    once = plane - blurred(plane, NOISE_BLUR)
    return once - blurred(once, NOISE_BLUR)


def _stray(values: Plane) -> float:
    return STRAY * 1.4826 * float(np.median(np.abs(values))) + 1e-9
