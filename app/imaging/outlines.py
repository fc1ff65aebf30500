"""Lines, arcs and corners through the edge of a part of a small grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import atan2, cos, sin, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.order import quantile
from app.imaging.regions import Mask, grown


@dataclass(frozen=True, kw_only=True, eq=False)
class Outline:
    """How a part is parted from the rest.

    Parameters
    ----------
    shape : ``line``, ``arc``, ``corner`` (two lines) or ``window`` (up to four along the grid)
    residual : 80th percentile of the distances of the edge's places from it, in places. A fifth may stray: metal
        that touches an unexposed area looks like more of it.
    half : the median of those distances
    bows : whether the other side is bounded outwards, as a beam's field is: the part lies outside of a circle or
        beyond one or two lines
    filled : what of the places beyond the line, arc or corner is the part, and the other way round: places in both
        over places in either, 0 to 1. A block painted on the border ends short of its own line.
    beyond : the places beyond it
    covered : what of those is the part, 0 to 1
    supported : share of the outline along which the part really ends; the rest is hidden by metal that touches it
    gaps : in how many stretches that rest lies
    radius : of the arc, in places; infinite for lines
    level : whether a line, or both of a corner, run along the grid to within a place
    length : greatest extent of the edge, in places
    """

    shape: str
    residual: float
    half: float
    bows: bool
    filled: float
    beyond: Mask
    covered: float
    supported: float
    gaps: int
    radius: float
    level: bool
    length: float


KEPT = 80
"""Percentile of the distances to which a fit is held; places further off are left out of the next one."""
SMOOTH = 0.8
"""Residual at which the simplest outline is taken without a look at the others."""
WELL_FILLED = 0.85
"""The same for what it fills."""
ON_IT = 0.8
"""Distance from a line or circle within which a place lies on it."""
GAP = 3.0
"""Distance along an outline that parts two stretches."""
TRIALS = 60
"""Pairs or triples tried. Where half of the places lie on the outline, sixty triples all miss it with a chance of
0.0003."""
STRAY = 0.1
"""What a place of residual weighs against what is filled, when outlines are compared."""
FEWEST_PLACES = 8


def edge_places(part: Mask) -> NDArray[np.float64]:
    """Places just outside a part, off the grid's border: shape (n, 2), column and row."""
    outside = grown(part) & ~part
    outside[0] = outside[-1] = False
    outside[:, 0] = outside[:, -1] = False
    rows, columns = np.nonzero(outside)
    return np.stack([columns, rows], axis=1).astype(np.float64)


def outline_of(part: Mask) -> Outline | None:
    """The simplest of line, arc and corner that the edge of a part follows; None for an edge of a few places."""
    places = edge_places(part)
    if len(places) < FEWEST_PLACES:
        return None
    rows, columns = np.nonzero(part)
    inside = np.array([columns.mean(), rows.mean()])
    length = float(np.hypot(*(places.max(axis=0) - places.min(axis=0))))
    near = _around(places, part.shape)
    level = _level(places)
    best: Outline | None = None
    for fit in (_line, _arc, _corner, _window):
        found = fit(places, inside, part)
        if found is None:
            continue
        shape, off, bows, beyond, radius = found
        half, residual = _share_within(off, 50), _share_within(off, KEPT)
        either = int(np.count_nonzero(beyond | part))
        both = int(np.count_nonzero(beyond & part))
        filled = both / max(1, either)
        supported, gaps = _supported(edge_places(beyond), near)
        each = Outline(
            shape=shape,
            residual=residual,
            half=half,
            bows=bows,
            filled=filled,
            beyond=beyond,
            covered=both / max(1, int(np.count_nonzero(beyond))),
            supported=supported,
            gaps=gaps,
            radius=radius,
            level=level,
            length=length,
        )
        if each.residual <= SMOOTH and each.bows and each.filled >= WELL_FILLED:
            return each
        if best is None or _rank(each) > _rank(best):
            best = each
    return best


def _around(places: NDArray[np.float64], shape: tuple[int, ...]) -> Mask:
    """The grid's places within one, slanting too, of these."""
    marked = np.zeros(shape, np.uint8)
    marked[places[:, 1].astype(np.intp), places[:, 0].astype(np.intp)] = 1
    return np.asarray(cv2.dilate(marked, np.ones((3, 3), np.uint8)) > 0)


def _supported(border: NDArray[np.float64], near: Mask) -> tuple[float, int]:
    """Share of an outline's places that lie within a place of the part's own edge, and the gaps between those."""
    if len(border) == 0:
        return 0.0, 0
    held = near[border[:, 1].astype(np.intp), border[:, 0].astype(np.intp)]
    across = _normal(border - border.mean(axis=0))
    open_places = np.sort((border @ np.array([across[1], -across[0]]))[~held])
    gaps = int((np.diff(open_places) > GAP).sum()) + 1 if len(open_places) else 0
    return float(held.mean()), gaps


def _level(places: NDArray[np.float64]) -> bool:
    """Whether nearly all places lie in two columns or rows, or two of each."""
    common = [np.sort(np.bincount(places[:, axis].astype(int)))[::-1] for axis in (0, 1)]
    share = sum(int(counts[:2].sum()) for counts in common if counts[0] > 0.15 * len(places))
    return share >= 0.85 * len(places)


def _rank(outline: Outline) -> tuple[bool, float]:
    return outline.bows, outline.supported + outline.covered + outline.filled - STRAY * outline.residual


_Fit = tuple[str, NDArray[np.float64], bool, Mask, float]
"""Shape, distances of the edge from it, bows, the places beyond it, radius."""


def _grid(part: Mask) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return np.arange(part.shape[1], dtype=np.float64)[None, :], np.arange(part.shape[0], dtype=np.float64)[:, None]


def _share_within(off: NDArray[np.float64], percent: int) -> float:
    """The distance within which so many per cent of the places lie; not interpolated, for speed."""
    at = (len(off) - 1) * percent // 100
    return float(np.partition(off, at)[at])


def _normal(away: NDArray[np.float64]) -> NDArray[np.float64]:
    """The direction in which places around their mean are spread least; length 1."""
    return np.array(_across(away[:, 0], away[:, 1]))


def _across(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    turn = 0.5 * atan2(2 * float(x @ y), float(x @ x) - float(y @ y))
    return -sin(turn), cos(turn)


def _straight(
    places: NDArray[np.float64], rounds: int = 3
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """A line by total least squares, fitted again without the strays: a point of it, its normal, the distances."""
    # Column by column: a few hundred places cost less than each look at an array of pairs.
    x, y = np.ascontiguousarray(places.T)
    kept_x, kept_y = x, y
    for left in range(rounds - 1, -1, -1):
        count = len(kept_x)
        middle_x, middle_y = float(kept_x.sum()) / count, float(kept_y.sum()) / count
        normal_x, normal_y = _across(kept_x - middle_x, kept_y - middle_y)
        off = np.abs((x - middle_x) * normal_x + (y - middle_y) * normal_y)
        if left:
            near = off <= max(_share_within(off, KEPT), 0.5)
            kept_x, kept_y = x[near], y[near]
    return np.array([middle_x, middle_y]), np.array([normal_x, normal_y]), off


def _beyond(
    part: Mask, middle: NDArray[np.float64], normal: NDArray[np.float64], inside: NDArray[np.float64]
) -> Mask:
    """The half of the grid on the part's side of a line."""
    x, y = _grid(part)
    sign = 1.0 if (inside - middle) @ normal > 0 else -1.0
    return np.asarray(sign * ((x - middle[0]) * normal[0] + (y - middle[1]) * normal[1]) > 0)


def _line(places: NDArray[np.float64], inside: NDArray[np.float64], part: Mask) -> _Fit | None:
    """The line on which most places lie, by trials of pairs, then by least squares on those that do."""
    pairs = _trials(len(places), 2)
    along = places[pairs[:, 1]] - places[pairs[:, 0]]
    lengths = np.hypot(*along.T)
    normals = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.maximum(lengths, 1e-9)[:, None]
    along_normals = normals @ places.T
    offs = np.abs(along_normals - along_normals[np.arange(TRIALS), pairs[:, 0]][:, None])
    best = offs[np.argmax(np.count_nonzero(offs <= ON_IT, axis=1) * (lengths > 3))]
    middle, normal, _ = _straight(places[best <= ON_IT])
    off = np.abs((places - middle) @ normal)
    return "line", off, True, _beyond(part, middle, normal, inside), np.inf


def _arc(places: NDArray[np.float64], inside: NDArray[np.float64], part: Mask) -> _Fit | None:
    """The circle on which most places lie, by trials of triples, then by least squares (Kåsa) on those that do."""
    one, two, three = (places[index] for index in _trials(len(places), 3).T)
    # The centre has the same distance from all three: two linear equations for each triple.
    a, b = two - one, three - one
    twice = 2 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    good = np.abs(twice) > 1e-6
    if not good.any():
        return None
    a, b, one, twice = a[good], b[good], one[good], twice[good]
    aa, bb = (a * a).sum(axis=1), (b * b).sum(axis=1)
    shift = np.stack([b[:, 1] * aa - a[:, 1] * bb, a[:, 0] * bb - b[:, 0] * aa], axis=1) / twice[:, None]
    radii = np.hypot(*shift.T)
    centres = one + shift
    x, y = np.ascontiguousarray(places.T)
    offs = np.sqrt((x - centres[:, :1]) ** 2 + (y - centres[:, 1:]) ** 2)
    offs -= radii[:, None]
    near = np.abs(offs, out=offs) <= ON_IT
    kept = near[np.argmax(np.count_nonzero(near, axis=1))]
    fitted = _circle(x[kept], y[kept])
    if fitted is None:
        return None
    (centre_x, centre_y), radius = fitted
    off = np.abs(np.sqrt((x - centre_x) ** 2 + (y - centre_y) ** 2) - radius)
    x, y = _grid(part)
    x, y = x - centre_x, y - centre_y
    outside = x * x + y * y > radius * radius
    # Of all that lies outside of the circle, what lies in the part's own directions from its centre.
    rows, columns = np.nonzero(outside)
    x, y = x[0, columns], y[rows, 0]
    to_x, to_y = inside[0] - centre_x, inside[1] - centre_y
    angle = np.abs(np.arctan2(to_x * y - to_y * x, to_x * x + to_y * y))
    own = angle[part[rows, columns]]
    bows = bool(len(own) > 0.6 * np.count_nonzero(part))
    wide = quantile(own, 98) if len(own) else 0.0
    beyond = np.zeros(part.shape, bool)
    beyond[rows, columns] = angle <= wide
    return "arc", off, bows, beyond, radius


def _circle(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[tuple[float, float], float] | None:
    """Centre and radius of the circle by least squares (Kåsa); None for places in a line."""
    middle_x, middle_y = float(x.mean()), float(y.mean())
    x, y = x - middle_x, y - middle_y
    squares = x * x + y * y
    xx, yy, xy = float(x @ x), float(y @ y), float(x @ y)
    area = xx * yy - xy * xy
    if area <= 1e-12 * (xx + yy) ** 2:
        return None
    # About their own middle the three equations fall apart into one and two.
    sx, sy = float(x @ squares), float(y @ squares)
    centre_x, centre_y = (yy * sx - xy * sy) / area / 2, (xx * sy - xy * sx) / area / 2
    radius = sqrt(float(squares.mean()) + centre_x**2 + centre_y**2)
    return (centre_x + middle_x, centre_y + middle_y), radius


@cache
def _trials(count: int, size: int) -> NDArray[np.intp]:
    """Places to try a fit through: the same for the same number of places, so that nothing depends on luck."""
    return np.random.default_rng(count).integers(0, count, (TRIALS, size))


def _corner(places: NDArray[np.float64], inside: NDArray[np.float64], part: Mask) -> _Fit | None:
    """Two lines, the best of some splits of the edge in its order along its own chord."""
    away = places - places.mean(axis=0)
    across = _normal(away)
    in_order = places[np.argsort(away @ np.array([across[1], -across[0]]))]
    best: tuple[float, int] = (np.inf, 0)
    for at in [int(share * len(places)) for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)]:
        if FEWEST_PLACES // 2 <= at <= len(places) - FEWEST_PLACES // 2:
            worst = _share_within(_straight(in_order[:at], 2)[2], KEPT)
            # The second line is fitted only where the first is good enough for the split to be the best one.
            if worst <= best[0]:
                best = min(best, (max(worst, _share_within(_straight(in_order[at:], 2)[2], KEPT)), at))
    at = best[1]
    if not at:
        return None
    one, other = _straight(in_order[:at]), _straight(in_order[at:])
    bend = in_order[at - 1 : at + 1].mean(axis=0)
    ends = (in_order[0] + in_order[-1]) / 2
    # A beam's field has its corner towards the unexposed side; a block painted over has it away from there.
    bows = bool((bend - ends) @ (inside - ends) > 0)
    # Each line parts the unexposed side from the side on which the other line lies.
    middles = in_order[:at].mean(axis=0), in_order[at:].mean(axis=0)
    field = ~_beyond(part, one[0], one[1], 2 * one[0] - middles[1])
    field &= ~_beyond(part, other[0], other[1], 2 * other[0] - middles[0])
    return "corner", np.concatenate([one[2], other[2]]), bows, ~field, np.inf


def _window(places: NDArray[np.float64], inside: NDArray[np.float64], part: Mask) -> _Fit | None:
    """A rectangle along the grid: what of the grid is not the part, by the rows and columns that are mostly so."""
    rest = ~part
    rows, columns = rest.sum(axis=1), rest.sum(axis=0)
    used_rows, used_columns = np.nonzero(rows > rows.max() / 2)[0], np.nonzero(columns > columns.max() / 2)[0]
    top, bottom, left, right = used_rows[0], used_rows[-1], used_columns[0], used_columns[-1]
    field = np.zeros(part.shape, bool)
    field[top : bottom + 1, left : right + 1] = True
    x, y = places[:, 0], places[:, 1]
    # The places just outside the part are the outermost ones of the field.
    off = np.abs(np.stack([x - left, x - right, y - top, y - bottom])).min(axis=0)
    return "window", off, True, ~field, np.inf
