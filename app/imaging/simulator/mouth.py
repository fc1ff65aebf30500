"""A patient's mouth: each tooth placed along its arch, with its fillings, in one set of axes.

Axes are those of ``arch.py``: x to the patient's left, y backward, z up, mm; biting plane z = 0. The jaws stand a
little apart, as they do on a bite block or the tab of a bitewing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from app.core.dentition import Dentition, ToothState
from app.core.teeth import ArchName, Tooth
from app.imaging.simulator.arch import ArchCurve
from app.imaging.simulator.published import EDGE_TO_CONTACT_MM, ToothSize, tissues
from app.imaging.simulator.solids import Floats
from app.imaging.simulator.tooth_shape import ToothShape

Filling = Literal["metal", "resin", "crown", "ceramic_crown", "root_filling"]


@dataclass(frozen=True, kw_only=True, eq=False)
class PlacedTooth:
    """One tooth where it stands.

    Parameters
    ----------
    neck : middle of its neck, shape (3,), mm
    axes : shape (3, 3): unit vectors along the arch (to the patient's left), outward, and toward the root
    mesial : +1 where its front side faces along axes[0], -1 where it faces the other way
    crest : height ``a`` of the bone's edge below its neck, mm
    along : where it stands on its arch's curve, mm from the midline
    """

    tooth: Tooth
    state: ToothState
    shape: ToothShape
    neck: Floats
    axes: Floats
    mesial: int
    crest: float
    along: float
    fillings: tuple[Filling, ...] = ()

    def to_world(self, points: Sequence[Sequence[float]] | Floats, *, mesial: bool = False) -> Floats:
        """Points of the tooth's axes (x, b, a) in the mouth, shape (n, 3).

        With ``mesial`` their x counts toward the front of the mouth, else along ``axes[0]``.
        """
        local = np.atleast_2d(np.asarray(points, dtype=np.float64)).copy()
        if mesial:
            local[:, 0] *= self.mesial
        return np.asarray(self.neck + local @ self.axes)

    def to_local(self, points: Floats) -> Floats:
        """Points of the mouth in the tooth's axes, shape (n, 3)."""
        found: Floats = (np.atleast_2d(points) - self.neck) @ self.axes.T
        return found

    @cached_property
    def crown_points(self) -> Floats:
        """Points around the crown from neck to edge, shape (n, 3), mm."""
        found = []
        for solid in self.shape.crown:
            at = np.unique(np.linspace(0, len(solid.half_x) - 1, 9).astype(int))
            x, b, a = solid.centre_x[at], solid.centre_b[at], solid.heights[at]
            wide, deep = solid.half_x[at], solid.half_b[at]
            found += [(x + wide, b, a), (x - wide, b, a), (x, b + deep, a), (x, b - deep, a)]
        return self.to_world(np.concatenate([np.column_stack(each) for each in found]), mesial=True)

    @cached_property
    def contact_belt(self) -> Floats:
        """Points around the crown at the height where it touches its neighbours, shape (n, 3), mm."""
        heights = self.contact_height + np.array([-0.6, 0.0, 0.6])
        return self.to_world(np.concatenate([self.shape.crown[0].outline(float(h)) for h in heights]), mesial=True)

    @property
    def contact_height(self) -> float:
        """Height ``a`` at which the tooth touches its neighbours."""
        return contact_height(self.shape.size)

    @property
    def roots(self) -> tuple[str, ...]:
        """Codes of its roots."""
        return tuple(self.shape.apices)

    def apex(self, code: str) -> Floats:
        """Tip of a root, shape (3,)."""
        if self.state is ToothState.IMPLANT:
            return np.asarray(self.to_world([[0.0, 0.0, IMPLANT_LENGTH_MM]])[0])
        return np.asarray(self.to_world([self.shape.apices[code]], mesial=True)[0])


IMPLANT_LENGTH_MM = 11.0
"""Length of a fixture below the neck of its crown (common practice)."""


class Stand(NamedTuple):
    """What the bone needs to know of one position of the row."""

    along: float
    neck_z: float
    lean_tan: float
    half_b: float
    bare: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Jaw:
    """One arch with everything in it.

    Parameters
    ----------
    curve : through the contacts; ``offset_y`` is added to its y
    stands : the row's positions from the patient's right to left, with or without a tooth
    spans : each position's stretch along the curve, mm
    """

    arch: ArchName
    curve: ArchCurve
    offset_y: float
    stands: tuple[Stand, ...]
    spans: Mapping[Tooth, tuple[float, float]]
    bone_loss_mm: float

    @property
    def up(self) -> int:
        """+1 where the roots point up, -1 below."""
        return 1 if self.arch == "upper" else -1

    def point(self, along: float, height_z: float, out_mm: float = 0.0) -> Floats:
        """A point beside the curve, shape (3,), mm."""
        flat = self.curve.at(along) + out_mm * self.curve.outward(along)
        return np.array([flat[0], flat[1] + self.offset_y, height_z])

    def crest_z(self, along: float) -> float:
        """Height of the bone's edge there, mm."""
        places = [stand.along for stand in self.stands]
        heights = [
            stand.neck_z + self.up * (tissues().crest_below_neck_mm + self.bone_loss_mm + 2.5 * stand.bare)
            for stand in self.stands
        ]
        return float(np.interp(along, places, heights))


@dataclass(frozen=True, kw_only=True, eq=False)
class Mouth:
    """Both jaws of one patient. Grown from a seed: the same seed gives the same mouth.

    Parameters
    ----------
    bone_loss_mm : how far the crest lies below its usual height
    """

    dentition: Dentition
    seed: int
    teeth: Mapping[Tooth, PlacedTooth]
    jaws: Mapping[ArchName, Jaw]

    @cached_property
    def standing(self) -> tuple[PlacedTooth, ...]:
        """Everything that casts a shadow, in arch order."""
        return tuple(self.teeth.values())


def contact_height(size: ToothSize) -> float:
    """Height ``a`` at which a tooth of this size touches its neighbours, mm."""
    share = min(0.78, max(0.5, 1.0 - EDGE_TO_CONTACT_MM / size.crown_mm))
    return -share * size.crown_mm
