"""The teeth of the dentition editor: each with all its possible parts, of which its state shows some.

Built from the same silhouettes as the coverage chart, so that both look like one mouth.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from app.core.teeth import Tooth, arch, is_primary, place
from app.web.chart_drawing.outline import Frame
from app.web.chart_drawing.silhouettes import (
    build_of,
    crown_outline,
    fixture_outline,
    follicle_outline,
    remnant_edge,
    ridge_outline,
    root_shapes,
)

ROOTS_DRAWN: tuple[tuple[str, ...], ...] = (("R",), ("M", "D"), ("MB", "DB", "P"))
"""How one, two, and three or more roots are drawn, whatever they are called."""

HEIGHT = {False: 176.0, True: 112.0}
"""Height of a drawing in its units, of permanent and of primary teeth: the longest with a margin."""

MARGIN = 14.0
SCALE = 0.62
"""Pixels of the page per unit."""


@dataclass(frozen=True, kw_only=True)
class ToothDrawing:
    """Paths of the parts of one tooth; ``roots`` by their count from one to three."""

    width: float
    height: float
    pixels_wide: float
    pixels_high: float
    crown: str
    roots: tuple[tuple[str, ...], ...]
    fixture: str
    broken: str
    follicle: str
    ridge: str


@cache
def drawing_of(tooth: Tooth) -> ToothDrawing:
    """The tooth as seen from the front, biting edge towards the other arch, distal away from the midline."""
    build = build_of(tooth)
    height = HEIGHT[is_primary(tooth)]
    width = build.width * 1.3 + 6
    upper = arch(tooth) == "upper"
    side = -1.0 if place(tooth).ordinal < 0 else 1.0
    edge = height - MARGIN if upper else MARGIN
    frame = Frame(width / 2, edge, (side, 0.0), (0.0, -1.0 if upper else 1.0))
    return ToothDrawing(
        width=round(width, 1),
        height=height,
        pixels_wide=round(width * SCALE, 1),
        pixels_high=round(height * SCALE, 1),
        crown=frame.path(crown_outline(build)),
        roots=tuple(tuple(frame.path(root.shape) for root in root_shapes(build, codes)) for codes in ROOTS_DRAWN),
        fixture=frame.path(fixture_outline(build)),
        broken=frame.path(remnant_edge(build)),
        follicle=frame.path(follicle_outline(build)),
        ridge=frame.path(ridge_outline(build.width, build.height, 22.0)),
    )
