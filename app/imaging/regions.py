"""Connected parts of a small grid, and lines and arcs through their edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]


def grown(mask: Mask) -> Mask:
    """The mask with the four neighbours of each of its places."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    out[:, 1:] |= mask[:, :-1]
    out[:, :-1] |= mask[:, 1:]
    return out


def rim(shape: tuple[int, ...], depth: int = 1) -> Mask:
    """The outermost places of a grid."""
    mask = np.ones(shape, bool)
    mask[depth:-depth, depth:-depth] = False
    return mask


def parts_at_border(allowed: Mask, smallest: int) -> list[Mask]:
    """Connected parts that reach the border and have at least ``smallest`` places, largest first, eight at most.

    Runs along the rows are joined where runs of neighbouring rows overlap (union-find).
    """
    rows, columns = allowed.shape
    padded = np.zeros((rows, columns + 2), np.int8)
    padded[:, 1:-1] = allowed
    changes = np.diff(padded, axis=1)
    row_of, starts = np.nonzero(changes == 1)
    ends = np.nonzero(changes == -1)[1]
    owner = list(range(len(starts)))

    def root(run: int) -> int:
        while owner[run] != run:
            owner[run] = owner[owner[run]]
            run = owner[run]
        return run

    firsts = np.searchsorted(row_of, np.arange(rows + 1)).tolist()
    left, right = starts.tolist(), ends.tolist()
    for row in range(1, rows):
        above, here = firsts[row - 1], firsts[row]
        while above < firsts[row] and here < firsts[row + 1]:
            if left[above] < right[here] and left[here] < right[above]:
                owner[root(here)] = root(above)
            if right[above] < right[here]:
                above += 1
            else:
                here += 1
    if not owner:
        return []
    roots = np.array([root(run) for run in range(len(owner))])
    sizes = np.bincount(roots, ends - starts, minlength=len(roots))
    outer = (row_of == 0) | (row_of == rows - 1) | (starts == 0) | (ends == columns)
    wanted = sorted({int(r) for r in roots[outer] if sizes[r] >= smallest}, key=lambda r: -sizes[r])[:8]
    numbered = np.full(allowed.shape, -1)
    for run, (row, start, end) in enumerate(zip(row_of.tolist(), left, right, strict=True)):
        numbered[row, start:end] = roots[run]
    return [numbered == each for each in wanted]


@dataclass(frozen=True, kw_only=True)
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
    radius : of the arc, in places; infinite for lines
    level : whether a line, or both of a corner, run along the grid to within a place
    length : greatest extent of the edge, in places
    """

    shape: str
    residual: float
    half: float
    bows: bool
    filled: float
    radius: float
    level: bool
    length: float


KEPT = 80
"""Percentile of the distances to which a fit is held; places further off are left out of the next one."""
SMOOTH = 0.8
"""Residual at which the simplest outline is taken without a look at the others."""
WELL_FILLED = 0.85
"""The same for what it fills."""
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
    best: Outline | None = None
    for fit in (_line, _arc, _corner, _window):
        found = fit(places, inside, part)
        if found is None:
            continue
        shape, off, bows, beyond, radius = found
        half, residual = _share_within(off, 50), _share_within(off, KEPT)
        either = int((beyond | part).sum())
        filled = float((beyond & part).sum()) / max(1, either)
        each = Outline(
            shape=shape,
            residual=residual,
            half=half,
            bows=bows,
            filled=filled,
            radius=radius,
            level=_level(places),
            length=length,
        )
        if each.residual <= SMOOTH and each.bows and each.filled >= WELL_FILLED:
            return each
        if best is None or _rank(each) > _rank(best):
            best = each
    return best


def _level(places: NDArray[np.float64]) -> bool:
    """Whether nearly all places lie in two columns or rows, or two of each."""
    common = [np.sort(np.bincount(places[:, axis].astype(int)))[::-1] for axis in (0, 1)]
    share = sum(int(counts[:2].sum()) for counts in common if counts[0] > 0.15 * len(places))
    return share >= 0.85 * len(places)


def _rank(outline: Outline) -> tuple[bool, float]:
    return outline.bows, outline.filled - STRAY * outline.residual


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
    middle, normal, off = _straight(places)
    return "line", off, True, _beyond(part, middle, normal, inside), np.inf


def _arc(places: NDArray[np.float64], inside: NDArray[np.float64], part: Mask) -> _Fit | None:
    """A circle by least squares (Kåsa), fitted again without the strays."""
    kept = places
    for _ in range(3):
        shift = kept.mean(axis=0)
        away = kept - shift
        system = np.column_stack([away, np.ones(len(away))])
        found, _, rank, _ = np.linalg.lstsq(system, (away**2).sum(axis=1), rcond=None)
        squared = found[2] + ((found[:2] / 2) ** 2).sum()
        if rank < 3 or squared <= 0:
            return None
        centre, radius = found[:2] / 2 + shift, float(np.sqrt(squared))
        off = np.abs(np.hypot(*(places - centre).T) - radius)
        residual = _share_within(off, KEPT)
        kept = places[off <= max(residual, 0.5)]
    x, y = _grid(part)
    outside = np.hypot(x - centre[0], y - centre[1]) > radius
    bows = float(outside[part].mean()) > 0.9
    # Of all that lies outside of the circle, what lies in the part's own directions from its centre.
    towards = np.arctan2(inside[1] - centre[1], inside[0] - centre[0])
    angle = np.angle(np.exp(1j * (np.arctan2(y - centre[1], x - centre[0]) - towards)))
    wide = np.percentile(np.abs(angle[part]), 98)
    return "arc", off, bows, outside & (np.abs(angle) <= wide), radius


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
