"""The shadow of each tooth on the receptor: optical depth of every ray through its layers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from app.imaging.simulator.layers import DISPLACES_BONE, layers_of
from app.imaging.simulator.mouth import PlacedTooth
from app.imaging.simulator.projection import View
from app.imaging.simulator.solids import Floats, Loft, RayGrid, Singles, path_mm

_STEEPEST = 4.0
"""Rays that run more along the tooth than this (mm along it for each mm across) are not counted: a tooth seen
exactly from above or below is outside what any projection of a series shows."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PixelGrid:
    """Middles of the working pixels on the receptor.

    Parameters
    ----------
    u : shape (columns,), ascending; v : shape (rows,), descending (row 0 is the top); mm
    """

    u: Singles
    v: Singles

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return (len(self.v), len(self.u))

    @property
    def step(self) -> float:
        """Side of a pixel, mm."""
        return float(self.u[1] - self.u[0])


def pixel_grid(size_mm: tuple[float, float], columns: int, rows: int) -> PixelGrid:
    """A grid that covers the receptor from edge to edge."""
    du, dv = size_mm[0] / columns, size_mm[1] / rows
    u = (np.arange(columns) + 0.5) * du - 0.5 * size_mm[0]
    v = 0.5 * size_mm[1] - (np.arange(rows) + 0.5) * dv
    return PixelGrid(u=u.astype(np.float32), v=v.astype(np.float32))


def add_tooth(
    tooth: PlacedTooth,
    view: View,
    pixels: PixelGrid,
    attenuation: Mapping[str, float],
    depth: Singles,
    displaced: Singles,
) -> bool:
    """Add one tooth's shadow.

    Parameters
    ----------
    attenuation : linear coefficients, 1/mm
    depth : shape of the grid; the optical depth to add to
    displaced : shape of the grid; length of bone in mm that is no bone because the tooth stands there

    Returns
    -------
    False where the tooth casts no shadow on the receptor: beside it, behind it, or seen along its axis
    """
    source = tooth.to_local(view.source)[0]
    layers = layers_of(tooth)
    solids = [solid for layer in layers for solid in layer.solids]
    if not solids or source[1] < 20.0 or abs(source[2]) > _STEEPEST * source[1]:
        return False
    corners = _corners(tooth, solids)
    if float(view.before_receptor_mm(corners.mean(axis=0))[0]) < 0:
        return False
    box = _pixel_box(view.project(corners), pixels)
    if box is None:
        return False
    rows, columns = box
    x, a = _crossings(tooth, view, pixels.u[columns], pixels.v[rows], source)
    step = pixels.step / float(view.magnification(tooth.neck)[0])
    grid = _ray_grid(x, a, step, source, tooth.to_local(corners))
    if grid is None:
        return False
    own_depth = np.zeros((len(grid.a), len(grid.x)), dtype=np.float32)
    own_displaced = np.zeros_like(own_depth)
    for layer in layers:
        length = path_mm(layer.solids, grid, layer.slices, within=layer.within)
        if layer.name == DISPLACES_BONE:
            own_displaced = np.maximum(own_displaced, length)
        inside = attenuation[layer.inside] if layer.inside else 0.0
        outside = attenuation[layer.instead_of] if layer.instead_of else 0.0
        if inside != outside:
            length *= np.float32(inside - outside)
            own_depth += length
    np.maximum(own_depth, 0.0, out=own_depth)
    _place(grid, x, a, (own_depth, own_displaced), (depth[rows, columns], displaced[rows, columns]))
    return True


def _corners(tooth: PlacedTooth, lofts: Sequence[Loft]) -> Floats:
    """The eight corners of the box around the solids, in the mouth."""
    x = [float(e) for s in lofts for e in ((s.centre_x - s.half_x).min(), (s.centre_x + s.half_x).max())]
    b = [float(e) for s in lofts for e in ((s.centre_b - s.half_b).min(), (s.centre_b + s.half_b).max())]
    a = [float(e) for s in lofts for e in s.reach]
    return tooth.to_world(
        [[at_x, at_b, at_a] for at_x in (min(x), max(x)) for at_b in (min(b), max(b)) for at_a in (min(a), max(a))]
    )


def _pixel_box(places: Floats, pixels: PixelGrid) -> tuple[slice, slice] | None:
    if np.isnan(places).any():
        return None
    rows, columns = pixels.shape
    left = int(np.floor((places[:, 0].min() - float(pixels.u[0])) / pixels.step)) - 1
    right = int(np.ceil((places[:, 0].max() - float(pixels.u[0])) / pixels.step)) + 2
    top = int(np.floor((float(pixels.v[0]) - places[:, 1].max()) / pixels.step)) - 1
    bottom = int(np.ceil((float(pixels.v[0]) - places[:, 1].min()) / pixels.step)) + 2
    left, right, top, bottom = max(0, left), min(columns, right), max(0, top), min(rows, bottom)
    return (slice(top, bottom), slice(left, right)) if bottom > top and right > left else None


def _crossings(tooth: PlacedTooth, view: View, u: Singles, v: Singles, source: Floats) -> tuple[Singles, Singles]:
    """Where the rays of these pixels cross the tooth's plane b = 0: x and a, each of shape (rows, columns)."""
    centre = tooth.to_local(view.centre)[0]
    along_u, along_v = tooth.axes @ view.u, tooth.axes @ view.v

    def local(axis: int) -> Singles:
        found: Singles = (
            np.float32(centre[axis])
            + u[None, :] * np.float32(along_u[axis])
            + v[:, None] * np.float32(along_v[axis])
        )
        return found

    b = local(1)
    reach = np.float32(source[1]) / (np.float32(source[1]) - b)
    x, a = local(0), local(2)
    for found, at in ((x, source[0]), (a, source[2])):
        found -= np.float32(at)
        found *= reach
        found += np.float32(at)
    return x, a


def _ray_grid(x: Singles, a: Singles, step: float, source: Floats, local: Floats) -> RayGrid | None:
    """An even grid on the plane b = 0 that holds the crossings of the tooth's rays."""
    # Corners as the tube sees them on the plane.
    reach = source[1] / (source[1] - local[:, 1])
    seen_x = source[0] + (local[:, 0] - source[0]) * reach
    seen_a = source[2] + (local[:, 2] - source[2]) * reach
    low_x, high_x = max(float(x.min()), float(seen_x.min())), min(float(x.max()), float(seen_x.max()))
    low_a, high_a = max(float(a.min()), float(seen_a.min())), min(float(a.max()), float(seen_a.max()))
    if high_x - low_x < 2 * step or high_a - low_a < 2 * step:
        return None
    return RayGrid(
        x=np.arange(low_x - 2 * step, high_x + 3 * step, step, dtype=np.float32),
        a=np.arange(low_a - 2 * step, high_a + 3 * step, step, dtype=np.float32),
        source=(float(source[0]), float(source[1]), float(source[2])),
    )


def _place(grid: RayGrid, x: Singles, a: Singles, maps: tuple[Singles, ...], targets: tuple[Singles, ...]) -> None:
    """Bring maps of the grid onto the pixels, by bilinear interpolation, and add them."""
    step = np.float32(grid.step)
    column = (x - grid.x[0]) / step
    row = (a - grid.a[0]) / step
    high_row, high_column = len(grid.a) - 1.001, len(grid.x) - 1.001
    inside = (column >= 0) & (column <= high_column) & (row >= 0) & (row <= high_row)
    np.clip(column, 0, high_column, out=column)
    np.clip(row, 0, high_row, out=row)
    first_column = column.astype(np.int32)
    first_row = row.astype(np.int32)
    column -= first_column
    row -= first_row
    width = len(grid.x)
    index = first_row * width + first_column
    weights = inside.astype(np.float32)
    for source, target in zip(maps, targets, strict=True):
        flat = source.ravel()
        upper = flat.take(index)
        upper += (flat.take(index + 1) - upper) * column
        lower = flat.take(index + width)
        lower += (flat.take(index + width + 1) - lower) * column
        upper += (lower - upper) * row
        upper *= weights
        target += upper
