"""Jaw bone and soft tissue around the teeth, sampled along the rays.

Every sample is brought into the jaw's own coordinates: ``along`` the arch's curve, ``out`` from it (plus
outward), and ``depth`` below the crest of the bone. Cortical plates, the floor of the sinus and of the nose, the
canal of the lower jaw and the cheekbone are surfaces in these. Forms and thicknesses are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from app.core.teeth import ArchName
from app.imaging.simulator.mouth import Jaw, Mouth
from app.imaging.simulator.projection import View
from app.imaging.simulator.raycast import PixelGrid
from app.imaging.simulator.solids import Singles

SAMPLE_MM = 0.7
REACH_MM = 44.0
"""Rays are sampled from the receptor this far toward the tube: past the cheek in every view."""
_PLATE_MM: dict[ArchName, float] = {"upper": 1.1, "lower": 1.8}
_HEIGHT_MM: dict[ArchName, float] = {"upper": 34.0, "lower": 27.0}
_WIDENS: dict[ArchName, float] = {"upper": 0.05, "lower": 0.11}
_CHEEK_FROM_MM, _CHEEK_MM = 9.0, 9.0
_SOFT_EDGE_MM = 0.45


@dataclass(frozen=True, kw_only=True, eq=False)
class Sampled:
    """What the rays of one jaw met, each of the shape of the coarse grid.

    Parameters
    ----------
    cortical, soft : lengths in mm
    spongy : lengths in spongy bone in mm, inner and outer half
    along, height : mean place in each half's spongy bone, mm
    """

    cortical: Singles
    soft: Singles
    spongy: tuple[Singles, Singles]
    along: tuple[Singles, Singles]
    height: tuple[Singles, Singles]


_MAP_STEP = 1.0
_MAP_LOW = (-48.0, -16.0)
_MAP_SHAPE = (88, 97)


@lru_cache(maxsize=8)
def _map_of(jaw: Jaw) -> tuple[Singles, Singles]:
    """Jaw coordinates on a level map, and the row's figures along the curve.

    Returns
    -------
    array of shape (rows * columns, 4): along, out, and the outward unit vector; and
    array of shape (n, 4), one row for each 0.5 mm from -80 mm: crest z, lean, half width, 0
    """
    places = np.arange(-76.0, 76.0, 0.5)
    flat = jaw.curve.at(places) + np.array([0.0, jaw.offset_y])
    outward = jaw.curve.outward(places)
    y = _MAP_LOW[1] + _MAP_STEP * np.arange(_MAP_SHAPE[0])
    x = _MAP_LOW[0] + _MAP_STEP * np.arange(_MAP_SHAPE[1])
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    near = np.argmin((grid[:, :1] - flat[None, :, 0]) ** 2 + (grid[:, 1:] - flat[None, :, 1]) ** 2, axis=1)
    away = grid - flat[near]
    out = np.sum(away * outward[near], axis=1)
    along = places[near] - away[:, 0] * outward[near, 1] + away[:, 1] * outward[near, 0]
    packed = np.column_stack([along, out, outward[near]]).astype(np.float32)
    steps = np.arange(-80.0, 80.5, 0.5)
    stand_at = [stand.along for stand in jaw.stands]
    figures = np.column_stack(
        [
            [jaw.crest_z(float(step)) for step in steps],
            np.interp(steps, stand_at, [stand.lean_tan for stand in jaw.stands]),
            np.interp(steps, stand_at, [stand.half_b for stand in jaw.stands]),
            np.zeros_like(steps),
        ]
    ).astype(np.float32)
    return packed, figures


def sampled(mouth: Mouth, jaw: Jaw, view: View, coarse: PixelGrid) -> Sampled:
    """March along the rays of the coarse grid through one jaw, from the receptor toward the tube."""
    direction, start = _rays(view, coarse)
    t = ((np.arange(int(REACH_MM / SAMPLE_MM)) + 0.5) * SAMPLE_MM).astype(np.float32)
    x, y, z = (start[axis][None] + direction[axis][None] * t[:, None, None] for axis in range(3))
    along, out, height = _jaw_coordinates(jaw, x, y, z)
    parts = _Parts.of(jaw, along, out, height)
    length = np.float32(SAMPLE_MM)
    halves = []
    for inner in (True, False):
        weight = parts.spongy * ((parts.aside < 0) if inner else (parts.aside >= 0))
        total = weight.sum(axis=0)
        safe = np.maximum(total, 1e-6)
        halves.append(
            ((total * length), (weight * along).sum(axis=0) / safe, (weight * height).sum(axis=0) / safe)
        )
    return Sampled(
        cortical=parts.cortical.sum(axis=0) * length,
        soft=parts.soft.sum(axis=0) * length,
        spongy=(halves[0][0], halves[1][0]),
        along=(halves[0][1], halves[1][1]),
        height=(halves[0][2], halves[1][2]),
    )


def _rays(view: View, coarse: PixelGrid) -> tuple[list[Singles], list[Singles]]:
    """Unit directions to the tube and starting places on the receptor, each (rows, columns) per axis."""
    start = [
        np.float32(view.centre[axis])
        + coarse.u[None, :] * np.float32(view.u[axis])
        + coarse.v[:, None] * np.float32(view.v[axis])
        for axis in range(3)
    ]
    direction = [np.float32(view.source[axis]) - start[axis] for axis in range(3)]
    norm = np.sqrt(sum(each * each for each in direction))
    return [np.asarray(each / norm, dtype=np.float32) for each in direction], start


def _jaw_coordinates(jaw: Jaw, x: Singles, y: Singles, z: Singles) -> tuple[Singles, Singles, Singles]:
    packed, _ = _map_of(jaw)
    column = np.clip(np.rint((x - np.float32(_MAP_LOW[0])) / np.float32(_MAP_STEP)), 0, _MAP_SHAPE[1] - 1)
    row = np.clip(np.rint((y - np.float32(_MAP_LOW[1])) / np.float32(_MAP_STEP)), 0, _MAP_SHAPE[0] - 1)
    found = packed.take((row * _MAP_SHAPE[1] + column).astype(np.int32), axis=0)
    dx = x - (column * np.float32(_MAP_STEP) + np.float32(_MAP_LOW[0]))
    dy = y - (row * np.float32(_MAP_STEP) + np.float32(_MAP_LOW[1]))
    outward_x, outward_y = found[..., 2], found[..., 3]
    out = found[..., 1] + dx * outward_x + dy * outward_y
    along = found[..., 0] - dx * outward_y + dy * outward_x
    return along, out, z


@dataclass(frozen=True, kw_only=True, eq=False)
class _Parts:
    """Share of each sample that is cortical bone, spongy bone and soft tissue; and its side of the teeth."""

    cortical: Singles
    spongy: Singles
    soft: Singles
    aside: Singles

    @classmethod
    def of(cls, jaw: Jaw, along: Singles, out: Singles, height: Singles) -> _Parts:
        _, figures = _map_of(jaw)
        index = np.clip(np.rint((along + 80.0) * 2.0), 0, len(figures) - 1).astype(np.int32)
        row = figures.take(index, axis=0)
        # Along the teeth, which lean: their roots stand inward of their crowns where the lean is positive.
        lean = row[..., 1]
        depth = ((height - row[..., 0]) * np.float32(jaw.up) - out * lean) / np.sqrt(1.0 + lean * lean)
        aside = out + lean * np.maximum(depth, 0.0)
        half = row[..., 2] + np.float32(_WIDENS[jaw.arch]) * np.maximum(depth, 0.0)
        side = half - np.abs(aside)
        behind = np.abs(along)
        # The bone ends behind the last tooth: tuberosity above; below it goes on into the ramus.
        tail = (
            np.float32(_tail(jaw)) - behind - np.float32(0.02) * (depth - 9.0) ** 2
            if jaw.arch == "upper"
            else np.float32(100.0) - behind
        )
        inside = np.minimum(np.minimum(side, depth), np.minimum(np.float32(_HEIGHT_MM[jaw.arch]) - depth, tail))
        solid = _ramp(inside)
        plate = np.float32(_PLATE_MM[jaw.arch])
        crest_plate = np.minimum(
            np.minimum(side - plate, depth - 0.7),
            np.minimum(tail - 0.8, np.float32(_HEIGHT_MM[jaw.arch]) - 2.0 - depth),
        )
        spongy = _ramp(crest_plate) * solid
        cortical = solid - spongy
        if jaw.arch == "upper":
            cortical, spongy, solid = _hollows(along, behind, aside, depth, half, cortical, spongy, solid)
        else:
            cortical, spongy = _canal(behind, aside, depth, cortical, spongy)
        gum = (
            _ramp(np.minimum(np.minimum(side + 1.6, depth + 2.4), np.float32(_HEIGHT_MM[jaw.arch]) - depth))
            - solid
        )
        cheek = _ramp(np.minimum(out - _CHEEK_FROM_MM, _CHEEK_FROM_MM + _CHEEK_MM - out))
        cheek = cheek * (height * np.float32(jaw.up) >= 0)
        soft = np.maximum(gum, 0.0) + cheek
        return cls(cortical=cortical, spongy=spongy, soft=soft, aside=aside)


def _tail(jaw: Jaw) -> float:
    return max(max(abs(e) for e in span) for span in jaw.spans.values()) + 5.0


def _ramp(inside_mm: Singles) -> Singles:
    """1 inside a surface, 0 outside, over `_SOFT_EDGE_MM`."""
    ramp = np.clip(inside_mm * np.float32(1.0 / _SOFT_EDGE_MM) + np.float32(0.5), 0.0, 1.0)
    return np.asarray(ramp, dtype=np.float32)


def _hollows(
    along: Singles,
    behind: Singles,
    aside: Singles,
    depth: Singles,
    half: Singles,
    cortical: Singles,
    spongy: Singles,
    solid: Singles,
) -> tuple[Singles, Singles, Singles]:
    """The sinus above the back teeth and the nose above the front teeth, each with its thin bony lining."""
    floor = np.float32(11.5) + np.float32(0.011) * (behind - 42.0) ** 2 + np.cos(behind * 0.62) * 0.9
    outer_wall = half - np.float32(1.3) - aside
    sinus = np.minimum(np.minimum(depth - floor, outer_wall), np.minimum(behind - 22.0, 60.0 - behind) * 0.4)
    nose = np.minimum(np.minimum(depth - 21.0 - 0.06 * along * along * 0.2, behind - 0.9), 9.5 - behind)
    hollow = np.maximum(sinus, nose)
    empty = _ramp(hollow)
    lining = np.maximum(_ramp(hollow + np.float32(0.75)) - empty, 0.0) * solid
    cortical = np.maximum(cortical * (1.0 - empty), lining * (1.0 - empty))
    spongy = np.minimum(spongy * (1.0 - empty), 1.0 - cortical)
    # The seam between the two halves of the upper jaw.
    seam = np.clip((np.float32(0.45) - behind) * 4.0, 0.0, 1.0) * (depth > 1.0) * (depth < 20.0)
    spongy = spongy * (1.0 - 0.7 * seam)
    # Root of the cheekbone: a bowl-shaped plate outside the first molar.
    bowl = np.sqrt(((behind - 38.0) / 9.0) ** 2 + ((aside - 15.0) / 10.0) ** 2 + ((depth - 22.0) / 7.5) ** 2)
    shell = np.clip((1.0 - bowl) * 7.0 + 0.5, 0.0, 1.0) - 0.75 * np.clip((0.86 - bowl) * 7.0 + 0.5, 0.0, 1.0)
    cortical = np.maximum(cortical, shell * np.float32(0.8))
    return cortical, spongy, np.asarray(solid * (1.0 - empty), dtype=np.float32)


def _canal(
    behind: Singles, aside: Singles, depth: Singles, cortical: Singles, spongy: Singles
) -> tuple[Singles, Singles]:
    """The lower jaw's canal with its fine walls, its mouth at the premolars, and the ridge outside the molars."""
    course = np.float32(19.5) - np.float32(0.11) * np.maximum(behind - 30.0, 0.0)
    away = np.asarray(np.hypot(depth - course, aside + 1.0), dtype=np.float32)
    here = behind > 22.0
    core = _ramp(np.float32(1.4) - away) * here
    wall = np.maximum(_ramp(np.float32(1.85) - away) * here - core, 0.0)
    opening = _ramp(1.6 - np.sqrt((behind - 21.0) ** 2 + (depth - 18.0) ** 2 + (aside - 4.0) ** 2 * 0.4))
    spongy = np.asarray(spongy * (1.0 - np.maximum(core, opening)), dtype=np.float32)
    cortical = np.asarray(np.maximum(cortical * (1.0 - opening), wall * 0.8), dtype=np.float32)
    spongy = np.minimum(spongy, 1.0 - cortical)
    ridge = _ramp(
        np.minimum(
            2.6 - np.abs(aside - 6.8), np.minimum(depth - 3.0 + (behind - 52.0) * 0.35, 6.0 - np.abs(depth - 7.0))
        )
    )
    grows = np.asarray(np.clip((behind - 45.0) / 9.0, 0.0, 1.0) * 0.7, dtype=np.float32)
    cortical = np.maximum(cortical, ridge * grows)
    return cortical, np.minimum(spongy, 1.0 - cortical)


def bone_layers(mouth: Mouth, view: View, coarse: PixelGrid) -> dict[ArchName, Sampled]:
    """What the rays meet of each jaw that lies in the beam."""
    return {name: sampled(mouth, jaw, view, coarse) for name, jaw in mouth.jaws.items() if _in_beam(jaw, view)}


def _in_beam(jaw: Jaw, view: View) -> bool:
    """Whether the receptor's rays pass the jaw's side of the biting plane before they reach the tube."""
    corners = [
        view.centre + a * 0.5 * view.size_mm[0] * view.u + b * 0.5 * view.size_mm[1] * view.v
        for a in (-1, 1)
        for b in (-1, 1)
    ]
    reach = [
        float(point[2])
        for corner in corners
        for point in (corner, corner + (view.source - corner) / np.linalg.norm(view.source - corner) * REACH_MM)
    ]
    return any(height * jaw.up > 0.2 for height in reach)


def bigger(values: Singles, coarse: PixelGrid, fine: PixelGrid) -> Singles:
    """A coarse map on the fine grid, bilinear; beyond the outer middles it keeps their values."""
    rows = _places(coarse.v[0], coarse.v[1] - coarse.v[0], fine.v, len(coarse.v))
    columns = _places(coarse.u[0], coarse.u[1] - coarse.u[0], fine.u, len(coarse.u))
    first, part = rows
    tall = values[first] + (values[first + 1] - values[first]) * part[:, None]
    first, part = columns
    found: Singles = tall[:, first] + (tall[:, first + 1] - tall[:, first]) * part[None, :]
    return found


def _places(start: np.float32, step: np.float32, at: Singles, count: int) -> tuple[NDArray[np.intp], Singles]:
    place = np.clip((at - start) / step, 0.0, count - 1.001)
    first = place.astype(np.intp)
    return first, (place - first).astype(np.float32)
