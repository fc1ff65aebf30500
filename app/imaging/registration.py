"""Laying one sketch on another by two scales and two shifts, and how far their fine detail then agrees.

Lucas and Kanade (Proc. Imaging Understanding Workshop 1981; from memory): the difference of the two planes is
explained by the slopes of one times small changes of the four numbers, solved by least squares, again and again.
Coarse planes first, so that a shift of a tenth is within reach; fine ones last, so that detail agrees to a
fraction of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

Plane = NDArray[np.float32]

LEVELS = ((32, 8), (96, 6), (192, 5))
"""Side of the planes and number of rounds, coarse to fine."""
STARTS = (1.0, 0.9, 1.11)
"""Scales from which the fit starts: a copy cropped by a tenth, or the original of one."""
MARGIN = 0.06
"""Share of the side left out at the rim, where planes are extrapolated."""
TILES = 6
"""Tiles along a side, each of which tells how far it would still shift."""
FINE_BLUR, BROAD_BLUR = 0.7, 2.2
"""Standard deviations, pixels of the finest plane, between which detail lies."""


@dataclass(frozen=True)
class Fit:
    """A fit.

    Parameters
    ----------
    detail : correlation of detail, -1 to 1; its size where greys are turned round
    off_scale : larger difference of a scale from 1
    off_place : larger shift of the centre, share of the side
    bent : 75th percentile of the shifts that tiles of the image still ask for, pixels of the finest plane: none in
        a copy, several tenths where depth and angle moved parts against one another
    """

    detail: float
    off_scale: float
    off_place: float
    bent: float


def aligned_detail(fixed: Plane, moving: Plane) -> Fit:
    """The best agreement of detail over the starts.

    Parameters
    ----------
    fixed, moving : same square shape, 0 to 1
    """
    pyramids = {side: (_shrunk(fixed, side), _shrunk(moving, side)) for side, _ in LEVELS}
    best: Fit | None = None
    for start in STARTS:
        # Where the moving plane is sampled for a place of the fixed one, both from -1 to 1: scale * place + shift.
        numbers = np.array([start, start, 0.0, 0.0])
        for side, rounds in LEVELS:
            numbers = _fitted(*pyramids[side], numbers, rounds)
        fit = _agreement(fixed, moving, numbers)
        if best is None or fit.detail > best.detail:
            best = fit
        if best.detail > 0.8:
            break
    assert best is not None
    return best


def _shrunk(plane: Plane, side: int) -> Plane:
    image = Image.fromarray(plane).resize((side, side), Image.Resampling.BOX)
    return np.asarray(image, dtype=np.float32)


def _sampled(plane: Plane, numbers: NDArray[np.float64]) -> Plane:
    """The plane as scaled and shifted, by bilinear interpolation; beyond its rim the rim itself."""
    side = plane.shape[0]
    at = (np.arange(side) + 0.5) * 2 / side - 1

    def places(scale: float, shift: float) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
        wanted = np.clip(((at * scale + shift) + 1) * side / 2 - 0.5, 0, side - 1.001)
        whole = wanted.astype(np.intp)
        return whole, (wanted - whole).astype(np.float32)

    x, dx = places(float(numbers[0]), float(numbers[2]))
    y, dy = places(float(numbers[1]), float(numbers[3]))
    rows = plane[y] * (1 - dy)[:, None] + plane[y + 1] * dy[:, None]
    return np.asarray(rows[:, x] * (1 - dx) + rows[:, x + 1] * dx, dtype=np.float32)


def _even(plane: Plane) -> Plane:
    """Mean 0 and spread 1."""
    return np.asarray((plane - plane.mean()) / max(float(plane.std()), 1e-6), dtype=np.float32)


def _fitted(fixed: Plane, moving: Plane, numbers: NDArray[np.float64], rounds: int) -> NDArray[np.float64]:
    side = fixed.shape[0]
    cut = slice(max(1, round(MARGIN * side)), -max(1, round(MARGIN * side)))
    at = ((np.arange(side) + 0.5) * 2 / side - 1).astype(np.float32)[cut]
    target = _even(fixed[cut, cut])
    for _ in range(rounds):
        seen = _sampled(moving, numbers)
        part = _even(seen[cut, cut])
        sign = 1.0 if float((part * target).mean()) >= 0 else -1.0
        part = part * np.float32(sign)
        slope_y, slope_x = np.gradient(part, 2 / side)
        system = np.stack([slope_x * at[None, :], slope_y * at[:, None], slope_x, slope_y], axis=-1).reshape(-1, 4)
        wanted = (target - part).ravel()
        normal = system.T @ system
        step = np.linalg.solve(normal + np.eye(4) * 1e-4 * np.trace(normal), system.T @ wanted)
        # Slopes are taken on the plane already scaled, so the changes are of the same numbers.
        numbers = numbers + np.clip(step, -0.08, 0.08)
        numbers[:2] = np.clip(numbers[:2], 0.7, 1.4)
        numbers[2:] = np.clip(numbers[2:], -0.4, 0.4)
    return numbers


def _detail(plane: Plane) -> Plane:
    """What lies between the two blurs."""
    image = Image.fromarray(np.clip(plane * 255, 0, 255).astype(np.uint8))
    fine = np.asarray(image.filter(ImageFilter.GaussianBlur(FINE_BLUR)), dtype=np.float32)
    return fine - np.asarray(image.filter(ImageFilter.GaussianBlur(BROAD_BLUR)), dtype=np.float32)


def _agreement(fixed: Plane, moving: Plane, numbers: NDArray[np.float64]) -> Fit:
    side = fixed.shape[0]
    cut = slice(round(MARGIN * side), -round(MARGIN * side))
    laid = _sampled(moving, numbers)
    one, other = _detail(fixed), _detail(laid)
    at = (np.arange(side) + 0.5) * 2 / side - 1
    # Only where the moving plane really reaches.
    inside_x = np.abs(at * numbers[0] + numbers[2]) < 0.97
    inside_y = np.abs(at * numbers[1] + numbers[3]) < 0.97
    seen = np.outer(inside_y, inside_x)[cut, cut]
    one, other = one[cut, cut], other[cut, cut]
    if seen.sum() < 0.3 * seen.size:
        return Fit(0.0, 1.0, 1.0, 9.0)
    # Strong edges alone would agree between any two well-aligned exposures: each place counts the same.
    one, other = np.clip(one[seen], *_limits(one[seen])), np.clip(other[seen], *_limits(other[seen]))
    one, other = one - one.mean(), other - other.mean()
    length = float(np.sqrt((one * one).sum() * (other * other).sum()))
    detail = abs(float((one * other).sum())) / max(length, 1e-6)
    return Fit(
        detail,
        float(np.abs(numbers[:2] - 1).max()),
        float(np.abs(numbers[2:]).max()) / 2,
        _bent(_even(fixed[cut, cut]), _even(laid[cut, cut])),
    )


def _bent(target: Plane, seen: Plane) -> float:
    """How far tiles still want to shift, by one step of the same least squares in each."""
    if float((target * seen).mean()) < 0:
        seen = -seen
    middle = ((seen + target) / 2).astype(np.float32)
    slope_y, slope_x = (np.asarray(slope, dtype=np.float32) for slope in np.gradient(middle))
    rest = target - seen
    size = target.shape[0] // TILES

    def sums(values: Plane) -> NDArray[np.float64]:
        whole = values[: size * TILES, : size * TILES]
        return np.asarray(whole.reshape(TILES, size, TILES, size).sum(axis=(1, 3)), dtype=np.float64).ravel()

    xx, xy, yy = sums(slope_x * slope_x), sums(slope_x * slope_y), sums(slope_y * slope_y)
    wx, wy = sums(slope_x * rest), sums(slope_y * rest)
    area = xx * yy - xy * xy
    weak = np.minimum(xx, yy)
    clear = (area > 0.1 * xx * yy) & (weak >= np.median(weak))
    if clear.sum() < 4:
        return 0.0
    x = (yy[clear] * wx[clear] - xy[clear] * wy[clear]) / area[clear]
    y = (xx[clear] * wy[clear] - xy[clear] * wx[clear]) / area[clear]
    return float(np.percentile(np.hypot(x, y), 75))


def _limits(values: Plane) -> tuple[float, float]:
    wide = 1.5 * float(np.percentile(np.abs(values), 60)) + 1e-6
    return -wide, wide
