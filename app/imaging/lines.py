"""Thin straight lines across the image: scratches and creases of a plate, dead rows of a receptor.

What a median over five pixels removes is thinner than a quarter of a millimetre. Anatomy has such things too (the
ligament space, the lamina dura, the wall of a canal), but they bend within a root's length; root fillings and pins
are wider.

Straight pieces are found first, as connected streaks; where bone is busy, only what stands out most. A piece is
then followed both ways along its own line, across edges and along places where it cannot show because the picture
is already white (or black) there. A line counts where most of its length can be seen.
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
MOST_PLACES = 0.015
"""Share of the pixels that may stand out: in busy bone only the strongest are looked at."""
PIECE = 0.35
"""Length of a piece that is followed, over the shortest line that counts."""
MOST_PIECES = 8
"""Pieces followed, the longest first."""
SPREAD = 5
"""Pixels standing out to a pixel of a piece's length, beyond which it is a patch of texture."""
WINDOW, GOES_ON = 13, 0.75
"""Places ahead, and the share of them that must show the line, for it to go on."""
ENDS = (13, 242)
"""Levels beyond which a dark or a light line cannot show."""
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
    levels = cv2.convertScaleAbs(fine, alpha=255)
    smooth = cv2.medianBlur(levels, 5)
    least = round(255 * max(LEAST_STEP, ABOVE_NOISE * noise))
    # No place stands out by more than this: 0 where it is not looked at.
    most = np.full(levels.shape, 255, np.uint8)
    if left_out.any():
        looked_at = np.where(left_out, np.uint8(0), np.uint8(255))
        wide = cv2.resize(looked_at, None, fx=side, fy=side, interpolation=cv2.INTER_NEAREST)
        most[: wide.shape[0], : wide.shape[1]] = wide
    most[:MARGIN] = most[-MARGIN:] = 0
    most[:, :MARGIN] = most[:, -MARGIN:] = 0
    found: list[Line] = []
    long_side = max(fine.shape)
    for light in (True, False):
        out = cv2.subtract(levels, smooth) if light else cv2.subtract(smooth, levels)
        cv2.min(out, most, dst=out)
        strong, places = _strongest(out, least)
        pieces = _streaks(places, light, PIECE * shortest * long_side, long_side)
        if not pieces:
            continue
        hidden = smooth > ENDS[1] if light else smooth < ENDS[0]
        # A place counts when the line is at most a pixel beside it.
        faint = places if strong == least else _from_level(out, least)
        shown = cv2.dilate(faint, np.ones((3, 3), np.uint8)) > 0
        for line in pieces:
            whole = _followed(line, shown, hidden, long_side)
            if whole.length >= shortest and whole.covered >= STRAIGHT:
                found.append(whole)
    return sorted(found, key=lambda line: -line.length)


def _from_level(out: cv2.typing.MatLike, level: int) -> NDArray[np.uint8]:
    return np.asarray(cv2.threshold(out, level - 1, 1, cv2.THRESH_BINARY)[1], dtype=np.uint8)


def _strongest(out: cv2.typing.MatLike, least: int) -> tuple[int, NDArray[np.uint8]]:
    """The level from which places are looked at, and those places, 0 or 1."""
    places = _from_level(out, least)
    # Most images have few enough places; only a busy one needs its levels counted.
    if cv2.countNonZero(places) <= MOST_PLACES * out.size:
        return least, places
    counts = cv2.calcHist([out], [0], None, [256], [0, 256]).ravel()
    above = np.cumsum(counts[::-1])[::-1] / out.size
    strong = max(least, int(np.argmax(above <= MOST_PLACES)))
    return strong, _from_level(out, strong)


def _streaks(places: NDArray[np.uint8], light: bool, shortest: float, long_side: int) -> list[Line]:
    closed = cv2.morphologyEx(places, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    # A contour is at least as long as its part is wide and high. Following contours costs a third of numbering the
    # parts, and most images have no long one.
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    long_ones = (cv2.boundingRect(each) for each in contours if len(each) >= shortest / 2)
    if not any(np.hypot(width, height) >= shortest for _, _, width, height in long_ones):
        return []
    count, numbered, stats, _ = cv2.connectedComponentsWithStatsWithAlgorithm(
        closed, 8, cv2.CV_32S, cv2.CCL_SPAGHETTI
    )
    reach = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    long = (reach >= shortest) & (stats[:, cv2.CC_STAT_AREA] <= SPREAD * reach) & (np.arange(count) > 0)
    lines: list[Line] = []
    for each in sorted(np.flatnonzero(long), key=lambda number: -reach[number])[:MOST_PIECES]:
        left, top, width, height = stats[each, :4]
        part = (slice(top, top + height), slice(left, left + width))
        rows, columns = np.nonzero((numbered[part] == each) & (places[part] > 0))
        at = np.stack([columns + left, rows + top], axis=1).astype(np.float64)
        line = _line_through(at, light, shortest, long_side)
        if line is not None:
            lines.append(line)
    return lines


def _followed(line: Line, seen: Mask, hidden: Mask, long_side: int) -> Line:
    """The line as far as it goes on both ways, bridging what hides it."""
    start, end = np.array(line.start), np.array(line.end)
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    steps = np.arange(-long_side, 2 * long_side, dtype=np.float64)
    at = start + steps[:, None] * along
    rows, columns = seen.shape
    inside = (at[:, 0] >= 1) & (at[:, 0] < columns - 2) & (at[:, 1] >= 1) & (at[:, 1] < rows - 2)
    at, steps = at[inside], steps[inside]
    if len(steps) < WINDOW:
        return line
    x, y = np.rint(at).astype(np.intp).T
    shown = seen[y, x]
    unknown = hidden[y, x] & ~shown
    length = float(np.hypot(*(end - start)))
    first, last = int(np.argmin(np.abs(steps))), int(np.argmin(np.abs(steps - length)))
    last = _goes_to(shown, unknown, last, 1)
    first = _goes_to(shown, unknown, first, -1)
    known = ~unknown[first : last + 1]
    covered = float(shown[first : last + 1][known].mean()) if known.any() else 0.0
    (x0, y0), (x1, y1) = at[first], at[last]
    return Line(
        start=(float(x0), float(y0)),
        end=(float(x1), float(y1)),
        length=(last - first + 1) / long_side,
        light=line.light,
        covered=covered,
    )


def _goes_to(shown: Mask, unknown: Mask, at: int, way: int) -> int:
    """The last place that shows the line, followed from a place one way."""
    reached = at
    ahead: list[bool] = []
    while 0 <= at + way < len(shown):
        at += way
        if unknown[at]:
            continue
        ahead = [*ahead[-(WINDOW - 1) :], bool(shown[at])]
        if len(ahead) == WINDOW and sum(ahead) < GOES_ON * WINDOW:
            break
        if shown[at]:
            reached = at
    return reached


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
    # A slanted line has fewer pixels than its length: one for each step along its longer side.
    covered = len(reach) / (length * float(np.abs(direction).max()))
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
