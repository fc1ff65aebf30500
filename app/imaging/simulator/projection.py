"""A point source, a flat receptor and the field between them: where a point of the mouth falls on the image.

On the receptor u runs to the right of the image and v up, in mm from its middle; the image is seen from the tube,
as radiographs are mounted: the patient's right on the viewer's left.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from app.imaging.simulator.solids import Floats, Singles

CollimatorShape = Literal["rectangular", "round"]


@dataclass(frozen=True, kw_only=True)
class Field:
    """The part of the receptor's plane that the collimator leaves open.

    Parameters
    ----------
    shape : rectangular or round
    centre : (u, v) in mm
    half : half width and half height of a rectangle, or twice the radius of a circle, mm
    penumbra_mm : width of the edge from open to closed
    """

    shape: CollimatorShape
    centre: tuple[float, float]
    half: tuple[float, float]
    penumbra_mm: float = 0.35

    def inside_mm(self, u: Floats | Singles, v: Floats | Singles) -> Floats:
        """Distance to the edge of the field in mm, minus outside of it."""
        across: Floats = np.asarray(u, dtype=np.float64) - self.centre[0]
        up: Floats = np.asarray(v, dtype=np.float64) - self.centre[1]
        if self.shape == "round":
            return np.asarray(self.half[0] - np.hypot(across, up), dtype=np.float64)
        return _inside_box(across, up, self.half)


def _inside_box(u: Floats | Singles, v: Floats | Singles, half: tuple[float, float]) -> Floats:
    over_u, over_v = np.abs(u) - half[0], np.abs(v) - half[1]
    outside = np.hypot(np.maximum(over_u, 0.0), np.maximum(over_v, 0.0))
    return np.asarray(np.where(outside > 0, -outside, -np.maximum(over_u, over_v)), dtype=np.float64)


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """Where tube and receptor stand for one exposure.

    Parameters
    ----------
    source : the focus, shape (3,), mm
    centre : middle of the receptor, shape (3,), mm
    u, v : unit vectors to the right and up on the image; ``normal`` points to the tube
    size_mm : width and height of the receptor as it stands
    field : what the collimator leaves open
    """

    source: Floats
    centre: Floats
    u: Floats
    v: Floats
    size_mm: tuple[float, float]
    field: Field

    @cached_property
    def normal(self) -> Floats:
        """Square to the receptor, toward the tube."""
        return np.cross(self.u, self.v)

    @cached_property
    def distance_mm(self) -> float:
        """From the focus square to the receptor's plane."""
        return float((self.source - self.centre) @ self.normal)

    def project(self, points: Floats) -> Floats:
        """Where points fall, shape (n, 3) in, (n, 2) out: u and v in mm.

        A point beside or behind the tube cannot be seen; it comes out as not a number.
        """
        ray = np.atleast_2d(points) - self.source
        toward = -(ray @ self.normal)
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = np.where(toward > 1e-9, self.distance_mm / toward, np.nan)
        landed = self.source + ray * reach[:, None] - self.centre
        return np.stack([landed @ self.u, landed @ self.v], axis=-1)

    def magnification(self, points: Floats) -> Floats:
        """Source-receptor over source-object distance of each point, shape (n,)."""
        depth = (self.source - np.atleast_2d(points)) @ self.normal
        return np.asarray(self.distance_mm / depth, dtype=np.float64)

    def before_receptor_mm(self, points: Floats) -> Floats:
        """How far points lie in front of the receptor, toward the tube; shape (n,)."""
        return np.asarray((np.atleast_2d(points) - self.centre) @ self.normal, dtype=np.float64)

    def margin_mm(self, places: Floats) -> Floats:
        """Distance of places on the receptor, shape (n, 2), to the edge of its exposed part; minus outside."""
        half = (0.5 * self.size_mm[0], 0.5 * self.size_mm[1])
        u, v = places[:, 0], places[:, 1]
        on_receptor = _inside_box(u, v, half)
        found = np.minimum(on_receptor, self.field.inside_mm(u, v))
        return np.asarray(np.where(np.isnan(found), -np.inf, found), dtype=np.float64)
