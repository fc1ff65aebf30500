"""Lines, arcs and corners through the edge of a part of a small grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

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
    best: Outline | None = None
    for fit in (_line, _arc, _corner, _window):
        found = fit(places, inside, part)
        if found is None:
            continue
        shape, off, bows, beyond, radius = found
        half, residual = _share_within(off, 50), _share_within(off, KEPT)
        either = int((beyond | part).sum())
        both = int((beyond & part).sum())
        filled = both / max(1, either)
        supported, gaps = _supported(edge_places(beyond), near)
        each = Outline(
            shape=shape,
            residual=residual,
            half=half,
            bows=bows,
            filled=filled,
            beyond=beyond,
            covered=both / max(1, int(beyond.sum())),
            supported=supported,
            gaps=gaps,
            radius=radius,
            level=_level(places),
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
    x, y = away[:, 0], away[:, 1]
    turn = 0.5 * float(np.arctan2(2 * (x @ y), x @ x - y @ y))
    return np.array([-np.sin(turn), np.cos(turn)])


def _straight(
    places: NDArray[np.float64], rounds: int = 3
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """A line by total least squares, fitted again without the strays: a point of it, its normal, the distances."""
    kept = places
    for _ in range(rounds):
        middle = kept.mean(axis=0)
        away = kept - middle
        normal = _normal(away)
        off = np.abs((places - middle) @ normal)
        residual = _share_within(off, KEPT)
        kept = places[off <= max(residual, 0.5)]
    return middle, normal, off


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
    offs = np.abs((places[None] - places[pairs[:, 0]][:, None]) @ normals[:, :, None])[..., 0]
    best = offs[np.argmax((offs <= ON_IT).sum(axis=1) * (lengths > 3))]
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
    offs = np.abs(np.hypot(*(places[None] - centres[:, None]).transpose(2, 0, 1)) - radii[:, None])
    kept = places[offs[np.argmax((offs <= ON_IT).sum(axis=1))] <= ON_IT]
    middle = kept.mean(axis=0)
    away = kept - middle
    system = np.column_stack([away, np.ones(len(away))])
    found, _, rank, _ = np.linalg.lstsq(system, (away**2).sum(axis=1), rcond=None)
    squared = found[2] + ((found[:2] / 2) ** 2).sum()
    if rank < 3 or squared <= 0:
        return None
    centre, radius = found[:2] / 2 + middle, float(np.sqrt(squared))
    off = np.abs(np.hypot(*(places - centre).T) - radius)
    x, y = _grid(part)
    outside = np.hypot(x - centre[0], y - centre[1]) > radius
    # Of all that lies outside of the circle, what lies in the part's own directions from its centre.
    towards = np.arctan2(inside[1] - centre[1], inside[0] - centre[0])
    angle = np.angle(np.exp(1j * (np.arctan2(y - centre[1], x - centre[0]) - towards)))
    own = part & outside
    bows = int(own.sum()) > 0.6 * int(part.sum())
    wide = np.percentile(np.abs(angle[own]), 98) if own.any() else 0.0
    return "arc", off, bows, outside & (np.abs(angle) <= wide), radius


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
    for at in [int(share * len(places)) for share in (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)]:
        if FEWEST_PLACES // 2 <= at <= len(places) - FEWEST_PLACES // 2:
            worst = max(_share_within(_straight(half, 2)[2], KEPT) for half in (in_order[:at], in_order[at:]))
            best = min(best, (worst, at))
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
