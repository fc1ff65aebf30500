"""Solids of a tooth as stacks of superelliptic sections, and the length of each ray inside them.

A tooth has its own axes, in mm from the middle of its neck: ``x`` along the arch, ``b`` outward, ``a`` toward the
root. A `Loft` gives for every height ``a`` a section: its centre, its half widths along ``x`` and ``b``, and a
power (2 an ellipse, more a rounded box).

Rays are counted where they cross the plane b = 0. Seen from the tube, a slice of constant b then only shifts and
grows a little along each axis by itself, so the outline of a slice is a pair of columns per row: exact outlines,
softened over a pixel, at a cost of a few additions per slice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

TABLE_STEP_MM = 0.1
"""Spacing of a loft's sections along ``a``: finer than any receptor resolves across a curved outline."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Loft:
    """A stack of sections, `TABLE_STEP_MM` apart.

    Parameters
    ----------
    start : height ``a`` of the first section, mm
    centre_x, centre_b, half_x, half_b : shape (n,), mm; a half width of 0 closes the solid
    power : of the superellipse, at least 1
    low, high : heights at which the solid is cut off level; None for the ends of the stack
    """

    start: float
    centre_x: Floats
    centre_b: Floats
    half_x: Floats
    half_b: Floats
    power: float = 2.0
    low: float | None = None
    high: float | None = None

    @property
    def heights(self) -> Floats:
        """The height ``a`` of every section, mm."""
        return np.asarray(self.start + TABLE_STEP_MM * np.arange(len(self.half_x)), dtype=np.float64)

    def mirrored(self) -> Loft:
        """The same solid with x turned round."""
        return replace(self, centre_x=-self.centre_x)

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest height ``a`` of the solid, mm."""
        first, last = self.start, self.start + TABLE_STEP_MM * (len(self.half_x) - 1)
        return (
            first if self.low is None else max(first, self.low),
            last if self.high is None else min(last, self.high),
        )

    def between(self, low: float, high: float) -> Loft | None:
        """The part from height ``low`` to ``high``, None where there is none."""
        first, last = self.reach
        cut = (max(first, low), min(last, high))
        return replace(self, low=cut[0], high=cut[1]) if cut[1] - cut[0] > 1e-6 else None

    def section(self, height: float) -> tuple[float, float, float, float]:
        """Centre x, centre b, half x, half b at a height, in mm; half widths 0 outside the solid."""
        place = (height - self.start) / TABLE_STEP_MM
        if not 0 <= place <= len(self.half_x) - 1:
            return (0.0, 0.0, 0.0, 0.0)
        index = np.arange(len(self.half_x))
        return (
            float(np.interp(place, index, self.centre_x)),
            float(np.interp(place, index, self.centre_b)),
            float(np.interp(place, index, self.half_x)),
            float(np.interp(place, index, self.half_b)),
        )

    def outline(self, height: float, points: int = 96) -> Floats:
        """Points around the section at a height, shape (n, 3): x, b, a in mm; empty outside the solid."""
        centre_x, centre_b, half_x, half_b = self.section(height)
        if half_x <= 0 or half_b <= 0:
            return np.empty((0, 3))
        turn = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
        cosine, sine = np.cos(turn), np.sin(turn)
        power = 2.0 / self.power
        x = centre_x + half_x * np.sign(cosine) * np.abs(cosine) ** power
        b = centre_b + half_b * np.sign(sine) * np.abs(sine) ** power
        return np.stack([x, b, np.full(points, height)], axis=-1)


@dataclass(frozen=True, kw_only=True, eq=False)
class RayGrid:
    """Rays of one tooth, by where they cross its plane b = 0.

    Parameters
    ----------
    x : shape (columns,), ascending and evenly spaced, mm
    a : shape (rows,), ascending and evenly spaced, mm
    source : the tube's focus in the tooth's axes (x, b, a), mm; b > 0
    """

    x: Singles
    a: Singles
    source: tuple[float, float, float]

    @property
    def step(self) -> float:
        """Spacing of the columns, mm."""
        return float(self.x[1] - self.x[0])

    def slant(self) -> float:
        """Length of a ray for each mm of b it crosses, at the middle of the grid."""
        sx, sb, sa = self.source
        dx = (sx - float(self.x[len(self.x) // 2])) / sb
        da = (sa - float(self.a[len(self.a) // 2])) / sb
        return float(np.sqrt(1.0 + dx * dx + da * da))


def path_mm(
    solids: Sequence[Loft], grid: RayGrid, slices: int, *, within: Sequence[Loft] | None = None
) -> Singles:
    """Length of each ray inside the union of the solids, in mm.

    Parameters
    ----------
    slices : number of slices across the solids
    within : count only what also lies inside the union of these

    Returns
    -------
    array of shape (rows, columns), float32
    """
    total = np.zeros((len(grid.a), len(grid.x)), dtype=np.float32)
    solids = [solid for solid in solids if solid.half_b.max() > 0]
    if not solids:
        return total
    low = min(float((s.centre_b - s.half_b).min()) for s in solids)
    high = max(float((s.centre_b + s.half_b).max()) for s in solids)
    borders = np.linspace(low, high, slices + 1)
    stacks = [_Outlines.of(solid, grid, borders) for solid in solids]
    bounds = None if within is None else [_Outlines.of(solid, grid, borders) for solid in within]
    if len(stacks) == 1 and bounds is None:
        for index in range(slices):
            stacks[0].add(index, grid.x, total)
    else:
        here = np.empty_like(total)
        limit = np.empty_like(total)
        for index in range(slices):
            here.fill(0.0)
            for stack in stacks:
                stack.join(index, grid.x, here)
            if bounds is not None:
                limit.fill(0.0)
                for stack in bounds:
                    stack.join(index, grid.x, limit)
                np.minimum(here, limit, out=here)
            total += here
    total *= np.float32((high - low) / slices * grid.slant())
    return total


@dataclass(frozen=True, kw_only=True, eq=False)
class _Outlines:
    """The outline of every slice of one solid, as columns per row (in x at the plane b = 0)."""

    centre: Singles
    half: Singles
    width: Singles
    cap: Singles
    boxes: list[tuple[slice, slice] | None]

    @classmethod
    def of(cls, solid: Loft, grid: RayGrid, borders: Floats) -> _Outlines:
        sx, sb, sa = (np.float32(each) for each in grid.source)
        middle_b = (0.5 * (borders[1:] + borders[:-1])).astype(np.float32)[:, None]
        half_slice = np.float32(0.5 * (borders[1] - borders[0]))
        share = middle_b / sb
        height = grid.a[None, :] + (sa - grid.a[None, :]) * share
        # A level cut takes its share of the row of pixels it passes through, so that two parts fit seamlessly.
        low, high = solid.reach
        row = np.float32(grid.a[1] - grid.a[0])
        part_of_row = np.clip((height - np.float32(low)) / row + 0.5, 0.0, 1.0)
        part_of_row *= np.clip((np.float32(high) - height) / row + 0.5, 0.0, 1.0)
        place = (height - np.float32(solid.start)) * np.float32(1.0 / TABLE_STEP_MM)
        np.clip(place, 0.0, len(solid.half_x) - 1.0, out=place)
        index = np.minimum(place.astype(np.intp), len(solid.half_x) - 2)
        part = (place - index).astype(np.float32)

        def at(table: Floats) -> Singles:
            single = table.astype(np.float32)
            values: Singles = single[index] + np.diff(single)[index] * part
            return values

        half_b, centre_b, half_x, centre_x = (
            at(table) for table in (solid.half_b, solid.centre_b, solid.half_x, solid.centre_x)
        )
        # The slice is cut back to where the section is, so that thickness changes smoothly from row to row.
        from_b = np.maximum(middle_b - half_slice, centre_b - half_b)
        to_b = np.minimum(middle_b + half_slice, centre_b + half_b)
        part_of_slice = np.clip((to_b - from_b) / (2.0 * half_slice), 0.0, 1.0)

        def half_at(b: Singles) -> Singles:
            reach = np.minimum(np.abs(b - centre_b) / np.maximum(half_b, np.float32(1e-6)), 1.0)
            if solid.power == 2.0:
                return np.asarray(half_x * np.sqrt(1.0 - reach * reach))
            power = np.float32(solid.power)
            return np.asarray(half_x * (1.0 - reach**power) ** (1.0 / power))

        grow = 1.0 / (1.0 - share)
        middle = half_at(0.5 * (from_b + to_b)) * grow
        move = np.abs(half_at(to_b) - half_at(from_b)) * grow
        centre = (centre_x - sx * share) * grow
        # Seen at a slant the slice shifts across its own thickness too.
        move += np.abs(sx / sb) * 2.0 * half_slice
        # The first and last slice of a solid run out to nothing: spread over what is there, not beyond it.
        width = np.maximum(np.float32(grid.step), np.minimum(move, 2.0 * middle))
        there = part_of_row * part_of_slice
        cap = np.minimum(1.0, 2.0 * middle / width) * there
        boxes = [cls._box(centre[i], middle[i] + 0.5 * width[i], there[i] > 0, grid) for i in range(len(middle))]
        single = np.float32
        return cls(
            centre=centre.astype(single),
            half=(middle / width + 0.5).astype(single),
            width=(1.0 / width).astype(single),
            cap=cap.astype(single),
            boxes=boxes,
        )

    @staticmethod
    def _box(centre: Floats, reach: Floats, there: NDArray[np.bool_], grid: RayGrid) -> tuple[slice, slice] | None:
        rows = np.flatnonzero(there)
        if len(rows) == 0:
            return None
        rows_cut = slice(int(rows[0]), int(rows[-1]) + 1)
        left = float((centre - reach)[rows].min())
        right = float((centre + reach)[rows].max())
        first = max(0, int((left - float(grid.x[0])) / grid.step) - 1)
        last = min(len(grid.x), int((right - float(grid.x[0])) / grid.step) + 2)
        return (rows_cut, slice(first, last)) if last > first else None

    def _coverage(self, index: int, x: Singles, box: tuple[slice, slice]) -> Singles:
        rows, columns = box
        found = x[None, columns] - self.centre[index, rows, None]
        np.abs(found, out=found)
        found *= -self.width[index, rows, None]
        found += self.half[index, rows, None]
        np.clip(found, 0.0, self.cap[index, rows, None], out=found)
        return found

    def add(self, index: int, x: Singles, total: Singles) -> None:
        """Add the coverage of one slice."""
        box = self.boxes[index]
        if box is not None:
            total[box] += self._coverage(index, x, box)

    def join(self, index: int, x: Singles, union: Singles) -> None:
        """Make the union with the coverage of one slice."""
        box = self.boxes[index]
        if box is not None:
            view = union[box]
            np.maximum(view, self._coverage(index, x, box), out=view)
