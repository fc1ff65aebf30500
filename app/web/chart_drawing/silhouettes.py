"""What a tooth looks like from the front: crowns by class, roots, and the shapes of the marks.

All shapes are ours. Crown widths, heights and root lengths follow the handbook proportions of
shared/published (about 6 units to the millimetre), evened out so that a designation fits on every crown.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.core.teeth import Tooth, arch, is_primary, ordinal
from app.web.chart_drawing.outline import Outline, outline


@dataclass(frozen=True)
class Build:
    """Size and class of a tooth in drawing units."""

    form: str
    width: float
    height: float
    root: float

    @property
    def neck(self) -> float:
        """Half the width at the neck."""
        return self.width * (0.37 if self.form in ("upper molar", "lower molar") else 0.29)


_UPPER = (
    Build("incisor", 44, 64, 80),
    Build("incisor", 38, 57, 78),
    Build("canine", 41, 68, 98),
    Build("premolar", 40, 57, 82),
    Build("premolar", 40, 55, 82),
    Build("upper molar", 54, 52, 76),
    Build("upper molar", 52, 50, 72),
    Build("upper molar", 47, 48, 64),
)
_LOWER = (
    Build("incisor", 34, 55, 74),
    Build("incisor", 36, 57, 80),
    Build("canine", 40, 68, 94),
    Build("premolar", 40, 57, 82),
    Build("premolar", 41, 55, 84),
    Build("lower molar", 57, 52, 80),
    Build("lower molar", 55, 50, 76),
    Build("lower molar", 49, 48, 66),
)
_UPPER_PRIMARY = (
    Build("incisor", 37, 41, 46),
    Build("incisor", 33, 39, 48),
    Build("canine", 36, 46, 56),
    Build("upper molar", 44, 36, 42),
    Build("upper molar", 50, 39, 46),
)
_LOWER_PRIMARY = (
    Build("incisor", 32, 38, 44),
    Build("incisor", 32, 39, 46),
    Build("canine", 34, 43, 52),
    Build("lower molar", 46, 36, 44),
    Build("lower molar", 53, 39, 48),
)


def build_of(tooth: Tooth) -> Build:
    """Size and class of the tooth as drawn."""
    upper = arch(tooth) == "upper"
    if is_primary(tooth):
        return (_UPPER_PRIMARY if upper else _LOWER_PRIMARY)[ordinal(tooth) - 1]
    return (_UPPER if upper else _LOWER)[ordinal(tooth) - 1]


# Biting edges from the mesial to the distal shoulder, in shares of width and height.
_EDGES: dict[str, tuple[tuple[str, *tuple[float, ...]], ...]] = {
    "incisor": (
        ("M", -0.47, 0.12),
        ("Q", -0.46, 0.0, -0.36, 0.0),
        ("L", 0.30, 0.01),
        ("Q", 0.47, 0.02, 0.48, 0.18),
    ),
    "canine": (
        ("M", -0.47, 0.30),
        ("C", -0.42, 0.20, -0.16, 0.02, -0.05, 0.0),
        ("C", 0.06, 0.0, 0.44, 0.24, 0.48, 0.36),
    ),
    "premolar": (
        ("M", -0.48, 0.24),
        ("C", -0.47, 0.12, -0.24, 0.13, -0.10, 0.02),
        ("C", -0.04, -0.02, 0.04, -0.02, 0.10, 0.02),
        ("C", 0.24, 0.13, 0.47, 0.12, 0.48, 0.26),
    ),
    "upper molar": (
        ("M", -0.49, 0.26),
        ("C", -0.48, 0.04, -0.34, -0.02, -0.24, 0.0),
        ("C", -0.13, 0.02, -0.10, 0.15, -0.01, 0.15),
        ("C", 0.08, 0.15, 0.12, 0.05, 0.23, 0.04),
        ("C", 0.34, 0.03, 0.48, 0.08, 0.49, 0.28),
    ),
    "lower molar": (
        ("M", -0.49, 0.26),
        ("C", -0.48, 0.04, -0.38, 0.0, -0.32, 0.0),
        ("C", -0.24, 0.0, -0.23, 0.11, -0.16, 0.11),
        ("C", -0.09, 0.11, -0.08, 0.01, 0.0, 0.01),
        ("C", 0.09, 0.01, 0.10, 0.13, 0.17, 0.13),
        ("C", 0.24, 0.13, 0.24, 0.05, 0.33, 0.06),
        ("C", 0.42, 0.07, 0.48, 0.14, 0.49, 0.30),
    ),
}


def crown_outline(build: Build) -> Outline:
    """The crown, biting edge at deep 0, neck at deep ``height``; the neck bows towards the root."""
    edge = outline(*_EDGES[build.form])
    width, height, neck = build.width, build.height, build.neck
    placed = Outline(tuple((s, tuple((x * width, y * height) for x, y in points)) for s, points in edge.steps))
    (start_x, start_y) = placed.steps[0][1][0]
    (end_x, end_y) = placed.steps[-1][1][-1]
    sides = outline(
        ("C", end_x * 1.05, end_y + 0.30 * height, neck * 1.16, 0.80 * height, neck, height),
        ("Q", 0.0, height * 1.11, -neck, height),
        ("C", -neck * 1.16, 0.80 * height, start_x * 1.05, start_y + 0.30 * height, start_x, start_y),
        ("Z",),
    )
    return placed + sides


# Where each root stands across the tooth: mesial first, distal last.
_ACROSS = {"MB": 0, "M": 1, "B": 2, "R": 3, "P": 4, "L": 5, "D": 6, "DB": 7}


@dataclass(frozen=True)
class RootShape:
    """One root: its outline and where its apex lies."""

    code: str
    shape: Outline
    across: float
    deep: float


def root_shapes(build: Build, codes: tuple[str, ...]) -> tuple[RootShape, ...]:
    """The roots, those that lie behind first."""
    ordered = sorted(codes, key=lambda code: _ACROSS[code])
    if set(codes) == {"MB", "DB", "P"}:
        ordered = ["MB", "P", "DB"]
    count = len(ordered)
    spread = max(0.84 * build.neck, 9.0 * (count - 1)) if count > 1 else 0.0
    made: list[RootShape] = []
    for index, code in enumerate(ordered):
        share = 0.0 if count == 1 else 2 * index / (count - 1) - 1
        between = 0 < index < count - 1
        length = build.root + (15.0 if between and count % 2 else 0.0) - (3.0 if share > 0 else 0.0)
        lean = 3.0 if count == 1 else 2.0
        across = share * spread + lean
        base = build.neck * (0.94 if count == 1 else 0.62 if count == 2 else 0.52)
        middle = share * (build.neck - base) * 1.02
        made.append(
            RootShape(code, _root_outline(build, middle, base, across, length), across, build.height + length)
        )
    return tuple(sorted(made, key=lambda root: -root.deep) if count == 3 else made)


def _root_outline(build: Build, middle: float, half: float, tip: float, length: float) -> Outline:
    top, end = build.height * 0.93, build.height + length
    bend = top + 0.45 * (end - top)
    near = top + 0.88 * (end - top)
    return outline(
        ("M", middle - half, top),
        ("C", middle - half * 0.96, bend, tip - 7.5, near, tip - 4.2, end - 4),
        ("Q", tip, end + 2.5, tip + 4.2, end - 4),
        ("C", tip + 7.5, near, middle + half * 0.96, bend, middle + half, top),
        ("Z",),
    )


def fixture_outline(build: Build) -> Outline:
    """An implant's fixture: a tapering post with a thread on both sides."""
    top, end = build.height + 3.0, build.height + build.root
    turns = 6
    pitch = (end - 8 - top) / turns
    wide = min(build.neck * 0.8, 12.0)

    def half(index: float) -> float:
        return wide - index / turns * wide * 0.36

    down: list[tuple[str, *tuple[float, ...]]] = [("M", -half(0), top), ("L", half(0), top)]
    for index in range(turns):
        deep = top + index * pitch
        down.append(("L", half(index) + 4.0, deep + 0.45 * pitch))
        down.append(("L", half(index + 1) - 1.0, deep + pitch))
    up: list[tuple[str, *tuple[float, ...]]] = [("Q", 0.0, end + 6, -half(turns) + 1.0, top + turns * pitch)]
    for index in reversed(range(turns)):
        deep = top + index * pitch
        up.append(("L", -half(index) - 4.0, deep + 0.62 * pitch))
        up.append(("L", -half(index), deep))
    return outline(*down, *up, ("Z",))


def remnant_edge(build: Build) -> Outline:
    """The broken edge where a remnant's crown was."""
    neck, deep = build.neck, build.height * 0.93
    return outline(
        ("M", -neck * 1.05, deep - 1),
        ("L", -neck * 0.5, deep + 6),
        ("L", -neck * 0.12, deep - 3),
        ("L", neck * 0.4, deep + 5),
        ("L", neck * 1.05, deep - 2),
    )


def follicle_outline(build: Build) -> Outline:
    """The sac around the crown of a tooth still in the bone, open towards its root."""
    wide, deep = build.width * 0.62, build.height
    return outline(
        ("M", -wide * 0.92, deep * 0.92),
        ("C", -wide * 1.25, deep * 0.1, -wide * 0.8, -deep * 0.22, 0.0, -deep * 0.22),
        ("C", wide * 0.8, -deep * 0.22, wide * 1.25, deep * 0.1, wide * 0.92, deep * 0.92),
    )


def apex_outline(across: float, deep: float) -> Outline:
    """A thimble over the root's end: the apex with the bone around it."""
    half = 8.2
    return outline(
        ("M", across - half, deep - 9.5),
        ("C", across - half, deep + 3, across - half * 0.7, deep + 9, across, deep + 9),
        ("C", across + half * 0.7, deep + 9, across + half, deep + 3, across + half, deep - 9.5),
        ("Q", across, deep - 4.5, across - half, deep - 9.5),
        ("Z",),
    )


def contact_outline(deep: float) -> Outline:
    """A spindle in the space between two crowns."""
    tall, wide = 19.0, 8.6
    return outline(
        ("M", 0.0, deep - tall),
        ("C", wide, deep - tall * 0.4, wide, deep + tall * 0.4, 0.0, deep + tall),
        ("C", -wide, deep + tall * 0.4, -wide, deep - tall * 0.4, 0.0, deep - tall),
        ("Z",),
    )


def distal_outline(deep: float) -> Outline:
    """Half a spindle against the free face of the last tooth."""
    tall, wide = 19.0, 14.0
    return outline(
        ("M", 0.0, deep - tall),
        ("C", wide, deep - tall * 0.5, wide, deep + tall * 0.5, 0.0, deep + tall),
        ("Z",),
    )


def ridge_outline(width: float, deep: float, tall: float) -> Outline:
    """A saddle of bone where no tooth stands; it dips towards the bone."""
    half = width * 0.5 - 1
    dip = tall * 0.34
    return outline(
        ("M", -half, deep),
        ("C", -half * 0.5, deep + dip, half * 0.5, deep + dip, half, deep),
        ("C", half * 1.08, deep + tall * 0.4, half * 1.02, deep + tall * 0.8, half * 0.9, deep + tall),
        ("C", half * 0.4, deep + tall + dip, -half * 0.4, deep + tall + dip, -half * 0.9, deep + tall),
        ("C", -half * 1.02, deep + tall * 0.8, -half * 1.08, deep + tall * 0.4, -half, deep),
        ("Z",),
    )
