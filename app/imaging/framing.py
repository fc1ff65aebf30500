"""Frames around the radiograph: a viewer's or scanner's border, padding to a square, a strip with text.

A frame is a run of rows (or columns) from the edge that are all of one level and end all at once along a straight
line. Open space beyond the teeth is of one level too, but ends tooth by tooth; that is how the two are told apart.
One light strip on one side only may be a cone cut and is left to :mod:`app.imaging.collimation`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from app.imaging.order import middle
from app.imaging.planes import Box, Planes

TOLERANCE = 7 / 255
"""Levels from the frame's own: compression and scanning wobble by a few."""
WHOLE = 0.965
"""Share of a line at the frame's level for the line to be frame."""
TEXT_LINE = 0.4
"""The same for a line with text on it."""
STROKES = 12
"""Changes of grey along one line of text, at least: three letters or so."""
ENDS = 0.55
"""Share of the next lines still at the frame's level below which it ended along its length."""
ENDS_BESIDE_OTHERS = 0.9
"""The same where other sides are framed at the same level: the radiograph's own open space may adjoin."""
LARGEST_STRIP = 0.22
"""Share of a side that a strip of text takes at most."""
LIGHT = 0.6
"""Level from which a single plain strip may be an unexposed area."""
THIN = 0.035
"""Share of a side up to which a single plain strip is a rim whatever its level."""


AT_ONCE = 24
"""Lines looked at together."""


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What lies around the radiograph.

    Parameters
    ----------
    inner : the radiograph itself, native pixels
    share : of the file's area that is frame, 0 to 1
    sides : framed sides, of ``top``, ``bottom``, ``left``, ``right``
    text : whether a side is a strip with text
    """

    inner: Box
    share: float
    sides: tuple[str, ...]
    text: bool


@dataclass(frozen=True)
class _Side:
    depth: int
    level: float
    text: bool
    certain: bool


def find_frame(planes: Planes) -> Frame:
    """The frame of an image; ``inner`` is the whole image where it has none."""
    fine = planes.fine
    names = ("top", "bottom", "left", "right")
    # Every side is seen as the top of a turned view, so that one walk serves all four.
    views = (fine, fine[::-1], fine.T, fine[:, ::-1].T)
    depths = [_whole_lines(view) for view in views]
    sides = [_side(view, depths, number) for number, view in enumerate(views)]
    if not any(side.certain for side in sides):
        sides = [_side(view, [0, 0, 0, 0], number) for number, view in enumerate(views)]
    _pair(sides, depths)
    kept = _kept(sides, fine.shape)
    top, bottom, left, right = (side.depth if keep else 0 for side, keep in zip(sides, kept, strict=True))
    rows, columns = planes.native.shape
    factor = planes.factor
    x, y = _to_native(left, factor), _to_native(top, factor)
    width = columns - x - _to_native(right, factor)
    height = rows - y - _to_native(bottom, factor)
    if width < columns * 0.2 or height < rows * 0.2:
        return Frame(inner=(0, 0, columns, rows), share=0.0, sides=(), text=False)
    return Frame(
        inner=(x, y, width, height),
        share=1.0 - width * height / (rows * columns),
        sides=tuple(name for name, keep in zip(names, kept, strict=True) if keep),
        text=any(side.text for side, keep in zip(sides, kept, strict=True) if keep),
    )


def _to_native(depth: int, factor: float) -> int:
    """One more fine pixel than the frame has: its last one may be half radiograph."""
    return ceil((depth + 1) * factor) if depth else 0


def _near(lines: NDArray[np.float32], level: float) -> NDArray[np.float64]:
    """Share of each line at a level."""
    off = lines - np.float32(level)
    near = (np.abs(off, out=off) <= TOLERANCE).view(np.uint8)
    return np.asarray(np.add.reduce(near, axis=1, dtype=np.uint16) / near.shape[1], dtype=np.float64)


def _whole_lines(view: NDArray[np.float32]) -> int:
    """Lines from the top that are all of the level of the first."""
    level = middle(view[0])
    if _near(view[:1], level)[0] < WHOLE:
        return 0
    # A frame is thin, and what is behind it need not be looked at.
    for start in range(0, len(view), AT_ONCE):
        whole = _near(view[start : start + AT_ONCE], level) >= WHOLE
        if not whole.all():
            return start + int(np.argmin(whole))
    return len(view)


def _side(view: NDArray[np.float32], depths: list[int], number: int) -> _Side:
    """What lies along the top of a view, seen between the other sides' whole lines."""
    before, after = (depths[2], depths[3]) if number < 2 else (depths[0], depths[1])
    if before + after > 0.8 * view.shape[1]:
        before = after = 0
    inside = view[:, before : view.shape[1] - after]
    level = middle(inside[0])
    # Most radiographs have no frame, and their first line says so.
    if _near(inside[:1], level)[0] < WHOLE:
        return _Side(0, level, False, False)
    near = _near(inside, level)
    depth = int(np.argmin(near >= WHOLE)) if not (near >= WHOLE).all() else len(near)
    if depth == len(near):
        return _Side(0, level, False, False)
    # Text first: a line of it ends the plain lines above it as sharply as a radiograph does.
    strip, ended = _text_strip(inside, near, level)
    if strip:
        return _Side(strip, level, ended, True)
    if depth and _ended(near, depth, ENDS):
        return _Side(depth, level, False, True)
    if depth and _ended(near, depth, ENDS_BESIDE_OTHERS):
        return _Side(depth, level, False, False)
    return _Side(0, level, False, False)


def _ended(near: NDArray[np.float64], depth: int, share: float) -> bool:
    """Whether the lines after the frame leave its level together, within three lines."""
    return bool(near[depth + 1 : depth + 4].size and near[depth + 1 : depth + 4].min() <= share)


def _text_strip(lines: NDArray[np.float32], near: NDArray[np.float64], level: float) -> tuple[int, bool]:
    """Lines of a strip with text from the top: plain, written, plain again; 0 where there is none.

    Teeth that begin after plain lines are not followed by plain lines again.
    """
    most = int(len(near) * LARGEST_STRIP)
    plain = near >= WHOLE
    if not plain[0]:
        return 0, False
    end = at = 0
    while at < most:
        start = at + int(np.argmin(plain[at:])) if not plain[at:].all() else len(plain)
        after = [line for line in range(start + 3, most) if plain[line] and plain[line + 1 : line + 2].all()]
        if start >= most or not after or not _is_text(lines[start : after[0]], near[start : after[0]], level):
            break
        end = at = after[0]
    if not end:
        return 0, False
    rest = plain[end:]
    margin = int(np.argmin(rest)) if not rest.all() else 0
    if margin and _ended(near, end + margin - 1, ENDS):
        return end + margin, True
    # Plain lines lead over into open space: a label in the open, which is left out but is no frame.
    return end + 1, False


def _is_text(lines: NDArray[np.float32], near: NDArray[np.float64], level: float) -> bool:
    """Whether lines hold strokes: many changes between the ground and something far from it."""
    if near.min() < TEXT_LINE:
        return False
    inked = np.abs(lines - np.float32(level)) > 0.25
    changes = np.abs(np.diff(inked.astype(np.int8), axis=1)).sum(axis=1)
    return bool(changes.max() >= STROKES)


def _pair(sides: list[_Side], depths: list[int]) -> None:
    """Padding is alike on opposite sides: where open space hides the end of one, the other tells it."""
    for one, other in ((0, 1), (1, 0), (2, 3), (3, 2)):
        here, there = sides[one], sides[other]
        hidden = here.depth == 0 and depths[one] >= there.depth > 0
        if hidden and there.certain and not there.text and abs(here.level - there.level) <= TOLERANCE:
            sides[one] = _Side(there.depth, here.level, False, False)


def _kept(sides: list[_Side], shape: tuple[int, ...]) -> list[bool]:
    """Which sides are frame, by how they go together."""
    lengths = (shape[0], shape[0], shape[1], shape[1])
    found = [side.depth > 0 for side in sides]
    certain = [side.certain for side in sides]
    strips = [side.text for side in sides]
    levels = [side.level for side in sides]

    def alike(a: int, b: int) -> bool:
        return abs(levels[a] - levels[b]) <= 2 * TOLERANCE

    kept = list(strips)
    for a, b in ((0, 1), (2, 3)):
        if found[a] and found[b] and alike(a, b) and (certain[a] or certain[b]):
            kept[a] = kept[b] = True
    for common in [levels[each] for each in range(4) if certain[each]]:
        group = [found[each] and abs(levels[each] - common) <= 2 * TOLERANCE for each in range(4)]
        if sum(group) >= 3 and sum(in_group and sure for in_group, sure in zip(group, certain, strict=True)) >= 2:
            kept = [keep or in_group for keep, in_group in zip(kept, group, strict=True)]
    for each in range(4):
        dark, thin = levels[each] < LIGHT, sides[each].depth <= THIN * lengths[each]
        kept[each] |= certain[each] and (dark or thin)
    # A light side much deeper than all the others is a frame with an unexposed area behind it.
    for each in range(4):
        others = [sides[other].depth for other in range(4) if other != each and kept[other]]
        deepest = max(others, default=0)
        deep = sides[each].depth > 3 * deepest + 2 and sides[each].depth > 0.08 * lengths[each]
        if kept[each] and not strips[each] and deep and levels[each] >= LIGHT and len(others) == 3:
            sides[each] = _Side(deepest, levels[each], False, True)
    return kept
