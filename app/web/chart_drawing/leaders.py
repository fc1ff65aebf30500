"""Leader lines from marks to short labels in a lane beyond the roots, spread so that no two labels touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.web.chart_drawing.outline import Bow, Point, written

LABEL_HEIGHT = 29.0
_WIDTH_OF_A_LETTER = 14.4
_AIR = 20.0
_MOST_ROWS = 2


@dataclass(frozen=True)
class Wish:
    """A label that wants to stand outside its mark.

    Parameters
    ----------
    text : what it says
    along : where on the bow the mark stands (units of length on the biting edge)
    starts : page positions where its lines begin, one for each mark it names
    """

    text: str
    along: float
    starts: tuple[Point, ...]


@dataclass(frozen=True)
class Leader:
    """A label and the lines that lead to it."""

    text: str
    x: float
    y: float
    width: float
    lines: tuple[str, ...]


def leaders(wishes: Sequence[Wish], bow: Bow, lane: float, reach: float) -> tuple[tuple[Leader, ...], int]:
    """The labels placed in one or two rows, and how many rows they take; none where they do not fit.

    Parameters
    ----------
    lane : how far beyond the biting edge the first row stands
    reach : half the length of the bow that labels may use
    """
    ordered = sorted(wishes, key=lambda wish: wish.along)
    stretch = (bow.radius + lane) / bow.radius
    room = 2 * reach * stretch + 40
    for rows in range(1, _MOST_ROWS + 1):
        lines = [ordered[row::rows] for row in range(rows)]
        if all(sum(_width(wish) for wish in line) <= room for line in lines):
            placed: list[Leader] = []
            for row, line in enumerate(lines):
                centres = spread([w.along * stretch for w in line], [_width(w) for w in line], room / 2)
                deep = lane + row * LABEL_HEIGHT
                placed.extend(
                    _leader(wish, centre / stretch, deep, bow) for wish, centre in zip(line, centres, strict=True)
                )
            return tuple(placed), rows if placed else 0
    return (), 0


def _width(wish: Wish) -> float:
    return len(wish.text) * _WIDTH_OF_A_LETTER + _AIR


def _leader(wish: Wish, along: float, deep: float, bow: Bow) -> Leader:
    frame = bow.frame(along, 1)
    x, y = frame.point(0.0, deep)
    foot_x, foot_y = frame.point(0.0, deep - LABEL_HEIGHT * 0.52)
    lines = tuple(f"M{written(*start)}L{written(foot_x, foot_y)}" for start in wish.starts)
    return Leader(wish.text, round(x, 1), round(y, 1), round(_width(wish) - _AIR + 8, 1), lines)


def spread(wanted: Sequence[float], widths: Sequence[float], most: float) -> list[float]:
    """Centres as near as may be (least squares) to the wanted ones, in order, without overlap.

    Labels that would touch are pooled and the pool stands at the mean of what its members want.

    Parameters
    ----------
    wanted : ascending centres
    widths : of each label, air included
    most : no label reaches beyond ``-most`` or ``most`` where the room allows it

    Examples
    --------
    >>> spread([0.0, 2.0], [10.0, 10.0], 100.0)
    [-4.0, 6.0]
    """
    offsets: list[float] = []
    total = 0.0
    for width in widths:
        offsets.append(total + width / 2)
        total += width
    pools: list[list[float]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        pools.append([want - offset, 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            mean, count = pools.pop()
            before, count_before = pools.pop()
            pools.append([(mean * count + before * count_before) / (count + count_before), count + count_before])
    starts = [start for start, count in pools for _ in range(int(count))]
    least, greatest = -most, most - total
    if greatest < least:
        least = greatest = -total / 2
    return [min(max(start, least), greatest) + offset for start, offset in zip(starts, offsets, strict=True)]
