"""Thin straight lines across the image: scratches and creases of a plate, dead rows of a receptor.

What a median over five pixels removes is thinner than a quarter of a millimetre. Anatomy has such things too (the
ligament space, the lamina dura, the wall of a canal), but they bend within a root's length; root fillings and pins
are wider. A line counts where most of a long connected streak lies on one straight line.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.regions import Mask

LEAST_STEP = 0.035
"""Grey by which a line stands out from what lies beside it, share of the grey range: nine levels of 255."""
ABOVE_NOISE = 3.5
"""Standard deviations of a fine pixel's noise that it stands out by."""
MOST_PLACES = 0.08
"""Share of the pixels standing out beyond which the image is too busy or noisy to tell lines."""
ON_LINE = 1.0
"""Distance from the line, fine pixels, within which a place lies on it."""
STRAIGHT = 0.8
"""Share of a streak's length that must be covered by places on the line."""
TRIALS = 40
MARGIN = 4
"""Fine pixels along the border that are not looked at: what is left of frames and rims."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One straight line.

    Parameters
    ----------
    start, end : x and y, fine pixels
    length : over the long side of the image
    light : whether it is lighter than what lies beside it
    covered : share of its length on which it can be seen, 0 to 1
    """

    start: tuple[float, float]
    end: tuple[float, float]
    length: float
    light: bool
    covered: float


def straight_lines(
    fine: NDArray[np.float32], left_out: Mask, side: int, noise: float, shortest: float
) -> list[Line]:
    """Lines of the image without its frame, longest first.

    Parameters
    ----------
    fine : shape (rows, columns), 0 to 1
    left_out : fields that are not looked at: unexposed areas with their rims
    side : fine pixels to a field
    noise : standard deviation of a fine pixel's noise, share of the grey range
    shortest : over the long side
    """
    if min(fine.shape) < 60:
        return []
    levels = (fine * np.float32(255) + np.float32(0.5)).astype(np.uint8)
    smooth = cv2.medianBlur(levels, 5)
    least = round(255 * max(LEAST_STEP, ABOVE_NOISE * noise))
    blocked = cv2.resize(left_out.view(np.uint8), None, fx=side, fy=side, interpolation=cv2.INTER_NEAREST)
    found: list[Line] = []
    for light in (True, False):
        out = cv2.subtract(levels, smooth) if light else cv2.subtract(smooth, levels)
        places = (out >= least).astype(np.uint8)
        places[: blocked.shape[0], : blocked.shape[1]][blocked > 0] = 0
        places[:MARGIN] = places[-MARGIN:] = 0
        places[:, :MARGIN] = places[:, -MARGIN:] = 0
        if float(places.mean()) > MOST_PLACES:
            continue
        found += _streaks(places, light, shortest * max(fine.shape), max(fine.shape))
    return sorted(found, key=lambda line: -line.length)


def _streaks(places: NDArray[np.uint8], light: bool, shortest: float, long_side: int) -> list[Line]:
    closed = cv2.morphologyEx(places, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    count, numbered, stats, _ = cv2.connectedComponentsWithStats(closed, connectivity=8)
    reach = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    lines: list[Line] = []
    for each in np.nonzero((reach >= shortest) & (np.arange(count) > 0))[0]:
        rows, columns = np.nonzero((numbered == each) & (places > 0))
        line = _line_through(np.stack([columns, rows], axis=1).astype(np.float64), light, shortest, long_side)
        if line is not None:
            lines.append(line)
    return lines


def _line_through(places: NDArray[np.float64], light: bool, shortest: float, long_side: int) -> Line | None:
    """The line that most of a streak's places lie on, by trials of far pairs, then by least squares."""
    if len(places) < shortest / 2:
        return None
    pairs = np.random.default_rng(len(places)).integers(0, len(places), (TRIALS, 2))
    one, other = places[pairs[:, 0]], places[pairs[:, 1]]
    along = other - one
    lengths = np.hypot(*along.T)
    normals = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.maximum(lengths, 1e-9)[:, None]
    offs = np.abs((places[None] - one[:, None]) @ normals[:, :, None])[..., 0]
    near = offs[int(np.argmax((offs <= ON_LINE).sum(axis=1) * (lengths > 0.3 * shortest)))] <= ON_LINE
    for _ in range(2):
        middle = places[near].mean(axis=0)
        away = places[near] - middle
        turn = 0.5 * float(
            np.arctan2(2 * (away[:, 0] @ away[:, 1]), float(away[:, 0] @ away[:, 0] - away[:, 1] @ away[:, 1]))
        )
        direction = np.array([np.cos(turn), np.sin(turn)])
        off = np.abs((places - middle) @ np.array([-direction[1], direction[0]]))
        near = off <= ON_LINE
    reach = np.unique(np.round((places[near] - middle) @ direction).astype(np.intp))
    length = float(reach[-1] - reach[0] + 1)
    covered = len(reach) / length
    if length < shortest or covered < STRAIGHT:
        return None
    ends = [middle + direction * float(reach[at]) for at in (0, -1)]
    return Line(
        start=(float(ends[0][0]), float(ends[0][1])),
        end=(float(ends[1][0]), float(ends[1][1])),
        length=length / long_side,
        light=light,
        covered=min(1.0, covered),
    )
