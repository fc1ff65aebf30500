"""Where each position of a chart stands in the drawing: columns along the two bows, and what lies in the bone.

One column for each erupted tooth or empty place. A tooth still in the bone lies under the tooth that stands at its
place (a successor under its primary tooth), or sunk in its own column where nothing stands there. A place that an
extraction has closed gets no column of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from app.core.dentition import Dentition, ToothState
from app.core.teeth import Tooth, arch, arch_rank, place
from app.web.chart_drawing.outline import Bow, Frame
from app.web.chart_drawing.silhouettes import Build, build_of

SPACE_BETWEEN = 16.0
"""Room for a contact's spindle between two crowns."""

HALF_LENGTH = 484.0
"""Length of a bow from the midline to its end: a full permanent quadrant at scale 1."""

BOW_RADIUS = 1420.0
"""A gentle bow: the ends turn by just under 20 degrees."""

OPENING = 50.0
"""Room between the arches at their ends, where they come closest."""

_GREATEST_SCALE = 1.42
_SUNK = 30.0
_GHOST_SCALE = 0.72
_GHOST_ROOT = 0.66


@dataclass(frozen=True)
class Stand:
    """One position as drawn.

    Parameters
    ----------
    frame : its origin is on the biting edge in the middle of the column
    build : size of the tooth, already scaled
    lift : how deep in the bone its biting edge lies; 0 for an erupted tooth
    in_bone : whether it lies under or without an erupted tooth
    left, right : ends of its column along the bow, towards the viewer's left and right
    """

    tooth: Tooth
    state: ToothState
    frame: Frame
    build: Build
    lift: float
    in_bone: bool
    left: float
    right: float


@dataclass(frozen=True)
class Arrangement:
    """Both arches arranged.

    Parameters
    ----------
    stands : by position
    bows : upper and lower
    closed : places without a column: the position, and where along which bow its space has closed
    reach : half the length of the longer bow in use
    scale : of the teeth
    """

    stands: dict[Tooth, Stand]
    bows: dict[str, Bow]
    closed: tuple[tuple[Tooth, float], ...]
    reach: float
    scale: float


@dataclass(frozen=True)
class _Column:
    teeth: tuple[tuple[Tooth, int], ...]
    width: float


def arrangement(dentition: Dentition) -> Arrangement:
    """Where every position of the chart stands."""
    closed_over = _closed_over(dentition)
    columns = {
        (jaw, side): list(_columns(dentition, jaw, side, closed_over))
        for jaw in ("upper", "lower")
        for side in (-1, 1)
    }
    longest = max((_length(each) for each in columns.values()), default=0.0) or HALF_LENGTH
    scale = min(HALF_LENGTH / longest, _GREATEST_SCALE)
    reach = max(longest * scale, 200.0)
    sagitta = BOW_RADIUS - (BOW_RADIUS**2 - min(reach, HALF_LENGTH) ** 2) ** 0.5
    half_opening = OPENING / 2 * scale + sagitta
    bows = {
        "upper": Bow(BOW_RADIUS, -half_opening, upper=True),
        "lower": Bow(BOW_RADIUS, half_opening, upper=False),
    }
    stands: dict[Tooth, Stand] = {}
    for (jaw, side), row in columns.items():
        along = SPACE_BETWEEN / 2 * scale
        for column in row:
            width = column.width * scale
            middle = along + width / 2
            ends = sorted((side * along, side * (along + width)))
            frame = bows[jaw].frame(side * middle, side)
            for stand in _stacked(column, dentition, frame, scale, ends[0], ends[1]):
                stands[stand.tooth] = stand
            along += width + SPACE_BETWEEN * scale
    return Arrangement(stands, bows, tuple(_closed_notes(closed_over, stands)), reach, scale)


def _closed_over(dentition: Dentition) -> tuple[Tooth, ...]:
    return tuple(
        tooth
        for first, second in dentition.closed_spaces
        for tooth in dentition.between(first, second)
        if dentition.state(tooth) is ToothState.MISSING
    )


def _columns(dentition: Dentition, jaw: str, side: int, closed_over: tuple[Tooth, ...]) -> Iterator[_Column]:
    """The columns of one quadrant from the midline outwards."""
    here = [
        tooth
        for tooth in dentition.positions()
        if arch(tooth) == jaw and (place(tooth).ordinal > 0) == (side > 0) and tooth not in closed_over
    ]
    here.sort(key=arch_rank, reverse=side < 0)
    for _, at_place in groupby(here, key=lambda tooth: place(tooth).ordinal):
        yield from _columns_of_place(list(at_place), dentition)


def _columns_of_place(at_place: list[Tooth], dentition: Dentition) -> Iterator[_Column]:
    standing = [t for t in at_place if dentition.state(t) not in (ToothState.UNERUPTED, ToothState.MISSING)]
    if standing:
        below = [t for t in at_place if t not in standing]
    else:
        empty = [t for t in at_place if dentition.state(t) is ToothState.MISSING]
        standing, below = (empty[:1] or at_place[:1]), []
        below = [t for t in at_place if t not in standing]
    for index, tooth in enumerate(standing):
        under = tuple((t, 1 + depth) for depth, t in enumerate(below)) if index == 0 else ()
        yield _Column(((tooth, 0), *under), build_of(tooth).width)


def _length(columns: list[_Column]) -> float:
    return SPACE_BETWEEN / 2 + sum(column.width + SPACE_BETWEEN for column in columns)


def _scaled(build: Build, scale: float, root_share: float = 1.0) -> Build:
    return Build(build.form, build.width * scale, build.height * scale, build.root * scale * root_share)


def _stacked(
    column: _Column, dentition: Dentition, frame: Frame, scale: float, left: float, right: float
) -> Iterator[Stand]:
    deep = 0.0
    for tooth, depth in column.teeth:
        state = dentition.state(tooth)
        assert state is not None
        build = build_of(tooth)
        if depth:
            build = _scaled(build, scale * _GHOST_SCALE, _GHOST_ROOT)
            yield Stand(tooth, state, frame, build, deep, True, left, right)
            deep += build.height + build.root + 24 * scale
            continue
        if state is ToothState.UNERUPTED:
            build = _scaled(build, scale * 0.86, 0.9)
            yield Stand(tooth, state, frame, build, _SUNK * scale, True, left, right)
            deep = _SUNK * scale + build.height + build.root + 24 * scale
            continue
        build = _scaled(build, scale)
        yield Stand(tooth, state, frame, build, 0.0, False, left, right)
        rooted = state in (ToothState.PRESENT, ToothState.IMPLANT, ToothState.ROOT_REMNANT)
        extra = 15.0 if len(dentition.roots_of(tooth)) % 2 and len(dentition.roots_of(tooth)) > 1 else 0.0
        deep = build.height + (build.root + extra if rooted else 24 * scale) + 26 * scale


def _closed_notes(closed_over: tuple[Tooth, ...], stands: dict[Tooth, Stand]) -> Iterator[tuple[Tooth, float]]:
    """Where each closed space lies: between the columns on either side of it."""
    for tooth in closed_over:
        row = [stand for stand in stands.values() if arch(stand.tooth) == arch(tooth)]
        before = [s.right for s in row if arch_rank(s.tooth) < arch_rank(tooth)]
        after = [s.left for s in row if arch_rank(s.tooth) > arch_rank(tooth)]
        if before and after:
            yield tooth, (max(before) + min(after)) / 2
