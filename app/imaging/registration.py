"""Laying one sketch on another by two scales and two shifts, and how far their fine detail then agrees.

Lucas and Kanade (Proc. Imaging Understanding Workshop 1981; from memory): the difference of the two planes is
explained by the slopes of one times small changes of the four numbers, solved by least squares, again and again.
Coarse planes first, so that a shift of a tenth is within reach; fine ones last, so that detail agrees to a
fraction of a pixel. No rotation by less than a quarter turn: a copy has none.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]
Numbers = NDArray[np.float64]
"""Scales along x and y and shifts along x and y: where the moving plane is sampled for a place of the fixed one,
both from -1 to 1, is scale * place + shift."""

COARSE = ((32, 8), (96, 6))
"""Sides of the planes and numbers of rounds at which every start is tried."""
FINE_ROUNDS = 4
STARTS = (1.0, 0.9, 1.11)
"""Scales from which the fit starts: a copy cropped by a tenth, or the original of one."""
SETTLED = 0.97
"""Correlation of coarse planes from which no other start is tried."""
MARGIN = 0.06
"""Share of the side left out at the rim, where planes are extrapolated."""
REACH = 0.96
"""How far from the middle, of 1, a place of the moving plane may lie to be compared."""
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
    numbers : scales along x and y and shifts along x and y, of places from -1 to 1
    """

    detail: float
    off_scale: float
    off_place: float
    numbers: Numbers


def aligned_detail(fixed: Plane, moving: Plane) -> Fit:
    """The agreement of detail at the best fit.

    Parameters
    ----------
    fixed, moving : same square shape, 0 to 1
    """
    pyramids = [(_shrunk(fixed, side), _shrunk(moving, side), rounds) for side, rounds in COARSE]
    best: tuple[float, Numbers] | None = None
    for start in STARTS:
        numbers = np.array([start, start, 0.0, 0.0])
        for one, other, rounds in pyramids:
            numbers = _fitted(one, other, numbers, rounds)
        alike = _correlation(*pyramids[-1][:2], numbers)
        if best is None or alike > best[0]:
            best = alike, numbers
        if alike > SETTLED:
            break
    assert best is not None
    return _agreement(fixed, moving, _fitted(fixed, moving, best[1], FINE_ROUNDS))


def _shrunk(plane: Plane, side: int) -> Plane:
    return np.asarray(cv2.resize(plane, (side, side), interpolation=cv2.INTER_AREA), dtype=np.float32)


def sampled(plane: Plane, numbers: Numbers) -> Plane:
    """The plane as scaled and shifted, by linear interpolation; beyond its rim the rim itself."""
    x, dx = _places(plane.shape[0], float(numbers[0]), float(numbers[2]))
    y, dy = _places(plane.shape[0], float(numbers[1]), float(numbers[3]))
    rows = plane[y]
    rows += (plane[y + 1] - rows) * dy[:, None]
    left = rows[:, x]
    left += (rows[:, x + 1] - left) * dx
    return left


def _places(side: int, scale: float, shift: float) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Which pixel each place falls on along an axis, and the share of the next."""
    wanted = np.clip((places_along(side) * scale + shift + 1) * side / 2 - 0.5, 0, side - 1.001)
    whole = wanted.astype(np.intp)
    return whole, (wanted - whole).astype(np.float32)


def sampled_sharply(plane: Plane, numbers: Numbers) -> Plane:
    """As `sampled`, by cubic interpolation, which keeps more of the finest detail."""
    side = plane.shape[0]
    across, down = (_cubic_weights(side, float(numbers[n]), float(numbers[n + 2])) for n in (0, 1))
    return np.asarray(down @ plane @ across.T, dtype=np.float32)


def _cubic_weights(side: int, scale: float, shift: float) -> Plane:
    """How much each pixel counts for each place along an axis, shape (side, side).

    Keys' cubic with a = -1/2 (IEEE Trans ASSP 29, 1981, p. 1153; from memory).
    """
    whole, t = _places(side, scale, shift)
    taps = {
        -1: ((-0.5 * t + 1.0) * t - 0.5) * t,
        0: (1.5 * t - 2.5) * t * t + 1.0,
        1: ((-1.5 * t + 2.0) * t + 0.5) * t,
        2: (0.5 * t - 0.5) * t * t,
    }
    weights = np.zeros((side, side), np.float32)
    for off, share in taps.items():
        # At the rim several taps fall on the same pixel, one after the other.
        weights[np.arange(side), np.clip(whole + off, 0, side - 1)] += share
    return weights


@lru_cache(maxsize=16)
def places_along(side: int) -> NDArray[np.float64]:
    """Middles of the pixels along a side, from -1 to 1."""
    return (np.arange(side) + 0.5) * 2 / side - 1


def reached(side: int, numbers: Numbers, margin: float = MARGIN / 2) -> NDArray[np.bool_]:
    """Where the moving plane really reaches, without a margin at the rim of the fixed one."""
    at = places_along(side)
    own = np.abs(at) < 1 - 2 * margin
    return np.outer(
        own & (np.abs(at * numbers[1] + numbers[3]) < REACH), own & (np.abs(at * numbers[0] + numbers[2]) < REACH)
    )


def _even(plane: Plane) -> Plane:
    """Mean 0 and spread 1."""
    return np.asarray((plane - plane.mean()) / max(float(plane.std()), 1e-6), dtype=np.float32)


def _cut(side: int) -> slice:
    return slice(max(1, round(MARGIN * side)), -max(1, round(MARGIN * side)))


def _correlation(fixed: Plane, moving: Plane, numbers: Numbers) -> float:
    cut = _cut(fixed.shape[0])
    return abs(float((_even(fixed[cut, cut]) * _even(sampled(moving, numbers)[cut, cut])).mean()))


def _fitted(fixed: Plane, moving: Plane, numbers: Numbers, rounds: int) -> Numbers:
    side = fixed.shape[0]
    cut = _cut(side)
    target = _even(fixed[cut, cut])
    for _ in range(rounds):
        part = _even(sampled(moving, numbers)[cut, cut])
        if float((part * target).mean()) < 0:
            part = -part
        numbers = numbers + np.clip(steps_to_fit(target, part, None, places_along(side)[cut], 1e-4), -0.08, 0.08)
        numbers[:2] = np.clip(numbers[:2], 0.7, 1.4)
        numbers[2:] = np.clip(numbers[2:], -0.4, 0.4)
    return numbers


def steps_to_fit(
    target: Plane,
    seen: Plane,
    inside: NDArray[np.bool_] | None,
    places: NDArray[np.float64] | None = None,
    damping: float = 1e-5,
) -> Numbers:
    """The changes of the four numbers that explain most of what differs.

    Slopes are taken on the plane already scaled, so the changes are of the same numbers.

    Parameters
    ----------
    inside : where to look; None for everywhere
    places : of the pixels along a side, from -1 to 1; None where the planes are whole
    damping : share of the trace added to the diagonal: a plane of one edge has no slope along it
    """
    at = (places_along(target.shape[0]) if places is None else places).astype(np.float32)
    scale = 0.5 / float(at[1] - at[0])
    slope_x, slope_y = slopes(seen, scale)
    if inside is not None:
        slope_x, slope_y = slope_x * inside, slope_y * inside
    system = np.stack([slope_x * at[None, :], slope_y * at[:, None], slope_x, slope_y]).reshape(4, -1)
    normal = (system @ system.T).astype(np.float64)
    normal += np.eye(4) * (damping * np.trace(normal) + 1e-12)
    return np.linalg.solve(normal, system @ (target - seen).ravel())


def slopes(plane: Plane, scale: float = 0.5) -> tuple[Plane, Plane]:
    """Differences over two pixels across and down, times a factor."""
    x = cv2.Sobel(plane, cv2.CV_32F, 1, 0, ksize=1, scale=scale, borderType=cv2.BORDER_REPLICATE)
    y = cv2.Sobel(plane, cv2.CV_32F, 0, 1, ksize=1, scale=scale, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(x, dtype=np.float32), np.asarray(y, dtype=np.float32)


def _detail(plane: Plane) -> Plane:
    """What lies between the two blurs."""
    return np.asarray(cv2.GaussianBlur(plane, (0, 0), FINE_BLUR) - cv2.GaussianBlur(plane, (0, 0), BROAD_BLUR))


def _agreement(fixed: Plane, moving: Plane, numbers: Numbers) -> Fit:
    side = fixed.shape[0]
    one, other = _detail(fixed), _detail(sampled(moving, numbers))
    seen = reached(side, numbers, MARGIN)
    if seen.mean() < 0.25:
        return Fit(0.0, 1.0, 1.0, numbers)
    # Strong edges alone would agree between any two well-aligned exposures: each place counts the same.
    one, other = np.clip(one[seen], *_limits(one[seen])), np.clip(other[seen], *_limits(other[seen]))
    one, other = one - one.mean(), other - other.mean()
    length = float(np.sqrt((one * one).sum() * (other * other).sum()))
    detail = abs(float((one * other).sum())) / max(length, 1e-6)
    return Fit(detail, float(np.abs(numbers[:2] - 1).max()), float(np.abs(numbers[2:]).max()) / 2, numbers)


def _limits(values: Plane) -> tuple[float, float]:
    wide = 1.5 * float(np.percentile(np.abs(values), 60)) + 1e-6
    return -wide, wide
