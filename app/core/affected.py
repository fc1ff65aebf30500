"""Which of a slot's targets a region of its image takes away.

The image is laid out as the slot promises it: the patient's right on the viewer's left; on a periapical the crowns
towards the occlusal edge and the apices away from it; on a bitewing the upper crowns above the lower ones. Each
target has a place on it, in shares of width and height; a region that covers a part of that place takes the target
away. The layout is the usual one of a centred receptor (common practice, no source), so what comes out is a
proposal: the person who looks decides.

Law: a larger region never takes fewer targets.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core import targets
from app.core.targets import Target
from app.core.teeth import Place, Tooth, arch, place
from app.core.templates import RECEPTOR_SIZES_MM, Slot

Point = tuple[float, float]
"""Share of the width from the left edge, share of the height from the top edge; 0 to 1."""

WIDTHS_MM: dict[str, tuple[float, ...]] = {
    "upper": (8.5, 6.5, 7.5, 7.0, 7.0, 10.0, 9.0, 8.5),
    "lower": (5.0, 5.5, 7.0, 7.0, 7.0, 11.0, 10.5, 10.0),
}
"""Crown widths from the central incisor to the third molar, mm (rounded from shared/published)."""

ROWS: dict[str, tuple[float, float]] = {
    "crown": (0.08, 0.40),
    "contact": (0.10, 0.32),
    "distal": (0.08, 0.40),
    "apex": (0.64, 0.94),
    "ridge": (0.30, 0.80),
}
"""From the occlusal edge to the far one, shares of the height: where each kind lies on a periapical."""

TAKEN = 0.15
"""Share of a target's place from which it is taken away: a crown must be whole, an apex have bone around it."""

CONTACT_HALF_MM = 1.5
"""Half the width of what is looked at around a contact, mm."""

_GRID = 96


@dataclass(frozen=True, kw_only=True)
class Area:
    """Where a target lies, shares of width and height."""

    left: float
    top: float
    right: float
    bottom: float


def affected_targets(promised: Sequence[Target], slot: Slot, region: Sequence[Point]) -> tuple[Target, ...]:
    """The promised targets that a region takes away, in their order.

    Parameters
    ----------
    promised : targets that a good image of this slot shows of this patient
    region : corners of a closed outline, as shares of the image laid as the slot asks
    """
    if len(region) < 3 or not promised:
        return ()
    inside = _inside(region)
    places = target_areas(slot, promised)
    return tuple(target for target in promised if _share(inside, places[target]) >= TAKEN)


def target_areas(slot: Slot, promised: Iterable[Target]) -> dict[Target, Area]:
    """Where each target lies on a good image of the slot."""
    layout = _Layout(slot)
    return {target: layout.area(target) for target in promised}


class _Layout:
    """The columns of a slot's teeth, by arch, in shares of the width."""

    def __init__(self, slot: Slot) -> None:
        self.slot = slot
        size = slot.receptor.size if slot.receptor is not None else 2
        portrait = slot.receptor is not None and slot.receptor.orientation == "portrait"
        self.width_mm = float(RECEPTOR_SIZES_MM[size][0 if portrait else 1])
        self.columns: dict[str, dict[int, tuple[float, float]]] = {}
        for jaw in ("upper", "lower"):
            ranks = self._whole(jaw)
            if ranks:
                self.columns[jaw] = self._laid(jaw, ranks)

    def _whole(self, jaw: str) -> range:
        """The places that the slot shows whole, from the first to the last."""
        ranks = [
            place(tooth).rank
            for target in self.slot.shows
            if targets.kind(target) in ("crown", "apex", "ridge")
            for tooth in targets.teeth(target)
            if arch(tooth) == jaw
        ] or [place(t).rank for target in self.slot.shows for t in targets.teeth(target) if arch(t) == jaw]
        return range(min(ranks), max(ranks) + 1) if ranks else range(0)

    def _laid(self, jaw: str, ranks: range) -> dict[int, tuple[float, float]]:
        whole = sum(_width(jaw, rank) for rank in ranks)
        # Teeth keep their size where they fit, and are squeezed where the slot promises more than fits.
        scale = 1 / max(self.width_mm, whole)
        at = 0.5 - whole * scale / 2
        columns = {}
        for rank in ranks:
            columns[rank] = (at, at + _width(jaw, rank) * scale)
            at = columns[rank][1]
        return columns

    def _column(self, tooth: Tooth) -> tuple[float, float]:
        """Left and right edge of a tooth; beyond the whole ones the row goes on over the edge."""
        jaw, rank = arch(tooth), place(tooth).rank
        known = self.columns.get(jaw)
        if not known:
            return 0.0, 1.0
        if rank in known:
            return known[rank]
        unit = 1 / max(self.width_mm, sum(_width(jaw, each) for each in known))
        first, last = min(known), max(known)
        if rank < first:
            right = known[first][0] - sum(_width(jaw, each) for each in range(rank + 1, first)) * unit
            return right - _width(jaw, rank) * unit, right
        left = known[last][1] + sum(_width(jaw, each) for each in range(last + 1, rank)) * unit
        return left, left + _width(jaw, rank) * unit

    def area(self, target: Target) -> Area:
        """Where the target lies, cut off at the edges of the image."""
        left, right = self._across(target)
        top, bottom = self._down(target)
        # A contact at the very edge lies on the image all the same: the slot promises it.
        left, right = min(left, 0.98), max(right, 0.02)
        return Area(left=max(0.0, left), top=top, right=min(1.0, right), bottom=bottom)

    def _across(self, target: Target) -> tuple[float, float]:
        of = targets.teeth(target)
        left, right = self._column(of[0])
        half = CONTACT_HALF_MM / self.width_mm
        match targets.kind(target):
            case "contact":
                # Across a gap the contact is where the teeth have moved together: anywhere between.
                far = self._column(of[1])[0]
                return min(right, far) - half, max(right, far) + half
            case "distal":
                edge = left if place(of[0]).ordinal < 0 else right
                return edge - half, edge + half
            case _:
                return left, right

    def _down(self, target: Target) -> tuple[float, float]:
        jaw = arch(targets.teeth(target)[0])
        near, far = ROWS[targets.kind(target)]
        if self.slot.kind == "occlusal":
            return 0.0, 1.0
        if self.slot.kind == "bitewing":
            # Each jaw has its half, the occlusal edges towards the middle.
            return (0.5 - far, 0.5 - near) if jaw == "upper" else (0.5 + near, 0.5 + far)
        return (1 - far, 1 - near) if jaw == "upper" else (near, far)


def _width(jaw: str, rank: int) -> float:
    ordinal = Place("upper", rank if rank < 0 else rank + 1).ordinal
    count = min(abs(ordinal), 8)
    return WIDTHS_MM[jaw][count - 1]


def _inside(region: Sequence[Point]) -> NDArray[np.bool_]:
    """Which points of a grid lie inside an outline, shape (grid, grid); even-odd rule."""
    centres = (np.arange(_GRID) + 0.5) / _GRID
    x, y = np.meshgrid(centres, centres)
    inside = np.zeros((_GRID, _GRID), dtype=bool)
    for (x1, y1), (x2, y2) in zip(region, [*region[1:], region[0]], strict=True):
        if y1 == y2:
            continue
        crosses = (y1 > y) != (y2 > y)
        inside ^= crosses & (x < (x2 - x1) * (y - y1) / (y2 - y1) + x1)
    return inside


def _share(inside: NDArray[np.bool_], area: Area) -> float:
    rows = slice(int(area.top * _GRID), max(int(area.top * _GRID) + 1, round(area.bottom * _GRID)))
    columns = slice(int(area.left * _GRID), max(int(area.left * _GRID) + 1, round(area.right * _GRID)))
    return float(inside[rows, columns].mean())


def as_laid(point: Point, *, quarter_turns: int = 0, mirrored: bool = False) -> Point:
    """Where a point of the file lies once the image is mirrored and then turned clockwise.

    Examples
    --------
    >>> as_laid((0.25, 0.0), quarter_turns=1)
    (1.0, 0.25)
    >>> as_laid((0.25, 0.0), mirrored=True)
    (0.75, 0.0)
    """
    x, y = point
    if mirrored:
        x = 1 - x
    for _ in range(quarter_turns % 4):
        x, y = 1 - y, x
    return x, y
