"""The whole chart: one mark for each target that the dentition asks for, with bodies, designations and leaders.

The law of the chart: every target asked for, exempt ones included, has exactly one mark, and nothing else has.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from app.core import targets
from app.core.coverage import TargetState
from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.numbering import Numbering, shown
from app.core.targets import Target, TargetKind
from app.core.teeth import Tooth, arch
from app.web.chart_drawing.arrangement import Arrangement, Stand, arrangement
from app.web.chart_drawing.jaws import jaw_outlines
from app.web.chart_drawing.leaders import LABEL_HEIGHT, Leader, Wish, leaders
from app.web.chart_drawing.outline import Frame, Outline, Point, written
from app.web.chart_drawing.silhouettes import (
    apex_outline,
    contact_outline,
    crown_outline,
    distal_outline,
    fixture_outline,
    follicle_outline,
    remnant_edge,
    ridge_outline,
    root_shapes,
)

_MOST_QUIET_LABELS = 8


@dataclass(frozen=True)
class Body:
    """A part of the drawing that is no mark: a root, a fixture, a broken edge, a follicle."""

    kind: str
    path: str


@dataclass(frozen=True)
class Mark:
    """What stands for one target.

    Parameters
    ----------
    path : its outline
    stroke : a line across it, drawn where it is exempt
    x, y : its middle on the page
    """

    target: Target
    kind: TargetKind
    state: TargetState
    path: str
    stroke: str
    x: float
    y: float


@dataclass(frozen=True)
class Designation:
    """A tooth's shown number; ``on`` is the state of the mark it is written on, or ``bare``."""

    tooth: Tooth
    text: str
    x: float
    y: float
    on: str
    small: bool


@dataclass(frozen=True)
class Chart:
    """The chart ready for a template; page units, the origin in the middle of the mouth."""

    left: float
    top: float
    width: float
    height: float
    jaws: tuple[str, ...]
    bodies: tuple[Body, ...]
    marks: tuple[Mark, ...]
    designations: tuple[Designation, ...]
    leaders: tuple[Leader, ...]
    opening: float

    @property
    def view_box(self) -> str:
        """The ``viewBox`` of the drawing."""
        return f"{self.left:g} {self.top:g} {self.width:g} {self.height:g}"


def coverage_chart(
    dentition: Dentition,
    state_of: Callable[[Target], TargetState],
    numbering: Numbering = Numbering.ISO3950,
    lost: Collection[Target] = (),
) -> Chart:
    """Draw the mouth.

    Parameters
    ----------
    state_of : how each target stands
    numbering : which designations are written on the teeth
    lost : gaps that an image lost; they are called out by a label even where many views are still to be taken
    """
    where = arrangement(dentition)
    marks = tuple(_marks(dentition, where, state_of))
    state = {mark.target: mark.state for mark in marks}
    deepest = max((_end_of(stand, dentition) for stand in where.stands.values()), default=120.0)
    lane = deepest + 32
    placed: list[Leader] = []
    rows = 0
    for jaw, bow in where.bows.items():
        wishes = list(_wishes(dentition, where, marks, jaw, numbering, frozenset(lost)))
        found, taken = leaders(wishes, bow, lane, where.reach)
        placed.extend(found)
        rows = max(rows, taken)
    far_right = where.bows["upper"].frame(where.reach, 1).point(0.0, lane + (rows - 1) * LABEL_HEIGHT)[0]
    half_width = far_right + 24
    half_height = max(
        [where.bows["lower"].middle_y + deepest + 16, *(abs(each.y) + LABEL_HEIGHT * 0.7 for each in placed)]
    )
    return Chart(
        left=round(-half_width),
        top=round(-half_height),
        width=round(2 * half_width),
        height=round(2 * half_height),
        jaws=jaw_outlines(where, deepest + 8),
        bodies=tuple(_bodies(dentition, where)),
        marks=marks,
        designations=tuple(_designations(dentition, where, state, numbering)),
        leaders=tuple(placed),
        opening=round(where.bows["lower"].middle_y, 1),
    )


def _end_of(stand: Stand, dentition: Dentition) -> float:
    """How deep the drawing of a position reaches, its apex marks included."""
    if stand.state in (ToothState.MISSING, ToothState.PONTIC):
        return stand.lift + stand.build.height + 34
    return stand.lift + max(root.deep for root in root_shapes(stand.build, dentition.roots_of(stand.tooth))) + 10


def _marks(dentition: Dentition, where: Arrangement, state_of: Callable[[Target], TargetState]) -> Iterator[Mark]:
    for target in asked_targets(dentition):
        frame, shape = _shape_of(target, dentition, where)
        x, y = _middle(frame, shape)
        yield Mark(target, targets.kind(target), state_of(target), frame.path(shape), _stroke(frame, shape), x, y)


def _shape_of(target: Target, dentition: Dentition, where: Arrangement) -> tuple[Frame, Outline]:
    of = targets.teeth(target)
    stand = where.stands[of[0]]
    build = stand.build
    match targets.kind(target):
        case "crown":
            return stand.frame, crown_outline(build).moved(deep=stand.lift)
        case "apex":
            across, deep = _apex_at(stand, dentition, str(targets.root(target)))
            return stand.frame, apex_outline(across, deep + stand.lift)
        case "contact":
            other = where.stands[of[1]]
            frame = where.bows[arch(of[0])].frame((stand.right + other.left) / 2, 1)
            return frame, contact_outline(0.42 * (build.height + other.build.height) / 2)
        case "distal":
            side = 1 if stand.left > 0 else -1
            edge = stand.right if side > 0 else stand.left
            return where.bows[arch(of[0])].frame(edge + side * 3, side), distal_outline(0.45 * build.height)
        case _:
            under = stand.build.height + 5 if stand.state is ToothState.PONTIC else stand.build.height * 0.78
            tall = 12.0 if stand.state is ToothState.PONTIC else 20.0
            return stand.frame, ridge_outline(build.width, under + stand.lift, tall)


def _apex_at(stand: Stand, dentition: Dentition, code: str) -> Point:
    if stand.state is ToothState.IMPLANT:
        return (0.0, stand.build.height + stand.build.root)
    for root in root_shapes(stand.build, dentition.roots_of(stand.tooth)):
        if root.code == code:
            return (root.across, root.deep)
    raise KeyError(code)


def _box(shape: Outline) -> tuple[float, float, float, float]:
    points = [points[-1] for _, points in shape.steps if points]
    across, deep = [p[0] for p in points], [p[1] for p in points]
    return min(across), min(deep), max(across), max(deep)


def _middle(frame: Frame, shape: Outline) -> Point:
    left, top, right, bottom = _box(shape)
    x, y = frame.point((left + right) / 2, (top + bottom) / 2)
    return round(x, 1), round(y, 1)


def _stroke(frame: Frame, shape: Outline) -> str:
    left, top, right, bottom = _box(shape)
    if right - left < 8:
        left, right = left - 8, right + 8
    return f"M{written(*frame.point(left, bottom))}L{written(*frame.point(right, top))}"


def _bodies(dentition: Dentition, where: Arrangement) -> Iterator[Body]:
    for stand in where.stands.values():
        build, frame, lift = stand.build, stand.frame, stand.lift
        if stand.state is ToothState.IMPLANT:
            yield Body("fixture", frame.path(fixture_outline(build)))
        elif stand.state in (ToothState.PRESENT, ToothState.ROOT_REMNANT, ToothState.UNERUPTED):
            in_bone = " ghost" if stand.in_bone else ""
            for root in root_shapes(build, dentition.roots_of(stand.tooth)):
                yield Body(f"root{in_bone}", frame.path(root.shape.moved(deep=lift)))
        if stand.state is ToothState.ROOT_REMNANT:
            yield Body("broken", frame.path(remnant_edge(build)))
        if stand.state is ToothState.UNERUPTED:
            yield Body("follicle", frame.path(follicle_outline(build).moved(deep=lift)))
    for tooth, along in where.closed:
        frame = where.bows[arch(tooth)].frame(along, 1)
        yield Body("closed", f"M{written(*frame.point(0, 56))}L{written(*frame.point(0, 104))}")


def _designations(
    dentition: Dentition, where: Arrangement, state: dict[Target, TargetState], numbering: Numbering
) -> Iterator[Designation]:
    for stand in where.stands.values():
        tooth, build = stand.tooth, stand.build
        text = shown(tooth, numbering)
        on = "bare"
        deep = build.height * 0.57
        if stand.state is ToothState.MISSING:
            deep = build.height * 0.44
        elif stand.state is not ToothState.ROOT_REMNANT:
            on = state.get(targets.crown(tooth), "bare")
        x, y = stand.frame.point(0.0, deep + stand.lift)
        small = build.width < 33 or len(text) > 2
        yield Designation(tooth, text, round(x, 1), round(y, 1), on, small)
    for tooth, along in where.closed:
        x, y = where.bows[arch(tooth)].frame(along, 1).point(0.0, 116)
        yield Designation(tooth, shown(tooth, numbering), round(x, 1), round(y, 1), "bare closed", True)


def _wishes(
    dentition: Dentition,
    where: Arrangement,
    marks: tuple[Mark, ...],
    jaw: str,
    numbering: Numbering,
    lost: frozenset[Target],
) -> Iterator[Wish]:
    """Labels for the gaps of one arch: all of them where they are few, else those that an image lost."""
    gaps = [
        mark.target
        for mark in marks
        if mark.state == "gap"
        and mark.kind in ("contact", "apex", "distal")
        and arch(targets.teeth(mark.target)[0]) == jaw
    ]
    if len(gaps) > _MOST_QUIET_LABELS:
        gaps = [target for target in gaps if target in lost]
    apices: dict[Tooth, list[Target]] = {}
    for target in gaps:
        tooth = targets.teeth(target)[0]
        stand = where.stands[tooth]
        if targets.kind(target) == "apex":
            apices.setdefault(tooth, []).append(target)
            continue
        frame, shape = _shape_of(target, dentition, where)
        bottom = _box(shape)[3]
        if targets.kind(target) == "contact":
            first, second = targets.teeth(target)
            along = (where.stands[first].right + where.stands[second].left) / 2
            words = f"{shown(first, numbering)}–{shown(second, numbering)}"
        else:
            along = stand.right + 5 if stand.left > 0 else stand.left - 5
            words = f"{shown(tooth, numbering)} distal"
        yield Wish(words, along, (frame.point(0.0, bottom + 2),))
    for tooth, of in apices.items():
        stand = where.stands[tooth]
        codes = [str(targets.root(target)) for target in of]
        words = shown(tooth, numbering)
        if codes == ["R"]:
            words += " apex"
        else:
            every = len(codes) == len(dentition.roots_of(tooth))
            words += " apices" if every else " " + " ".join(codes)
        ends = []
        for code in codes:
            across, deep = _apex_at(stand, dentition, code)
            ends.append(stand.frame.point(across, deep + stand.lift + 11))
        yield Wish(words, (stand.left + stand.right) / 2, tuple(ends))
