"""What an exposure truly shows, from the geometry alone: the ground truth that measurements are held against."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from app.core import targets
from app.core.dentition import asked_targets
from app.core.targets import Target
from app.imaging.simulator.aim import Aim
from app.imaging.simulator.landmarks import target_points
from app.imaging.simulator.mouth import Mouth, PlacedTooth
from app.imaging.simulator.pose import TechniqueErrors
from app.imaging.simulator.projection import View
from app.imaging.simulator.published import tissues
from app.imaging.simulator.raycast import pixel_grid

BONE_BEYOND_APEX_MM = 2.0
"""Bone that must be seen beyond an apex (published: at least 2 mm; others ask 3)."""
OVERLAP_ALLOWED = 0.5
"""Share of the enamel's thickness that neighbours may overlap at an open contact (published for canine views:
less than half)."""
_AREA_GRID = 160


@dataclass(frozen=True, kw_only=True)
class TargetTruth:
    """One target on the image.

    Parameters
    ----------
    margin_mm : least distance of its points to the edge of the exposed part of the receptor, in mm on the
        receptor; minus where a point lies outside, None where a point cannot be projected
    needs_mm : margin it needs to count as shown
    overlap_mm : of a contact: how far the shadows of the two crowns overlap, in mm at the tooth; minus is a gap
    overlap_of_enamel : the same as a share of the thickness of enamel there
    shown : margin kept, and a contact open
    """

    target: str
    margin_mm: float | None
    needs_mm: float
    overlap_mm: float | None = None
    overlap_of_enamel: float | None = None
    shown: bool


@dataclass(frozen=True, kw_only=True)
class ToothTruth:
    """The length of a tooth, from its edge to the tip of its longest root.

    Parameters
    ----------
    true_mm, projected_mm : in the mouth and on the receptor
    ratio : projected over true, the magnification taken out: 1 is true to length, less is foreshortened
    """

    tooth: str
    true_mm: float
    projected_mm: float
    ratio: float


@dataclass(frozen=True, kw_only=True)
class Truth:
    """The ground truth of one exposure.

    Parameters
    ----------
    targets : what the projection owes of this patient
    also_shown : what the dentition asks for that is shown beside
    collimated_fraction : share of the receptor that the beam does not reach
    exposure : factor on the right exposure
    motion_px : length of the movement on the image, pixels
    magnification : at the middle of the teeth
    """

    targets: tuple[TargetTruth, ...]
    also_shown: tuple[str, ...]
    teeth: tuple[ToothTruth, ...]
    collimated_fraction: float
    exposure: float
    motion_px: float
    magnification: float

    @property
    def shown(self) -> tuple[str, ...]:
        """Targets of the projection that are truly shown."""
        return tuple(each.target for each in self.targets if each.shown)

    @property
    def missed(self) -> tuple[str, ...]:
        """Targets that the projection owes and does not show."""
        return tuple(each.target for each in self.targets if not each.shown)

    def of(self, target: str) -> TargetTruth:
        """The truth of one owed target, or `KeyError`."""
        for each in self.targets:
            if each.target == target:
                return each
        raise KeyError(target)

    def length_ratio(self, tooth: str) -> float:
        """Projected over true length of a tooth, magnification taken out, or `KeyError`."""
        for each in self.teeth:
            if each.tooth == tooth:
                return each.ratio
        raise KeyError(tooth)

    def as_json(self) -> dict[str, Any]:
        """Plain values for a JSON file; margins rounded to 0.001 mm."""
        found: dict[str, Any] = _rounded(asdict(self))
        found["shown"] = list(self.shown)
        return found


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(each) for each in value]
    return round(value, 4) if isinstance(value, float) else value


def truth_of(aim: Aim, mouth: Mouth, errors: TechniqueErrors, pixel_mm: float) -> Truth:
    """The ground truth of an exposure from this place."""
    owed = tuple(target_truth(mouth, aim.view, target) for target in aim.wanted)
    others = (t for t in asked_targets(mouth.dentition) if t not in aim.wanted)
    beside = tuple(t for t in others if target_truth(mouth, aim.view, t).shown)
    magnification = float(aim.view.magnification(aim.pivot)[0])
    named = dict.fromkeys(t for target in aim.wanted for t in targets.teeth(target))
    return Truth(
        targets=owed,
        also_shown=beside,
        teeth=tuple(length_truth(mouth.teeth[t], aim.view) for t in named if t in mouth.teeth),
        collimated_fraction=collimated_fraction(aim.view),
        exposure=errors.exposure,
        motion_px=errors.motion_mm * magnification / pixel_mm,
        magnification=magnification,
    )


def target_truth(mouth: Mouth, view: View, target: Target) -> TargetTruth:
    """Whether and how well one target falls on the exposed part of the receptor."""
    points = target_points(mouth, target)
    in_front = bool((view.before_receptor_mm(points) > 0).all())
    margin = float(view.margin_mm(view.project(points)).min()) if in_front else -np.inf
    grown = float(view.magnification(points).mean()) if in_front else 1.0
    needs = BONE_BEYOND_APEX_MM * grown if targets.kind(target) == "apex" else 0.0
    overlap = share = None
    if targets.kind(target) == "contact" and np.isfinite(margin):
        first, second = (mouth.teeth[t] for t in targets.teeth(target))
        overlap = overlap_mm(first, second, view)
        share = overlap / tissues().enamel_side_mm
    finite = margin if np.isfinite(margin) else None
    return TargetTruth(
        target=target,
        margin_mm=finite,
        needs_mm=needs,
        overlap_mm=overlap,
        overlap_of_enamel=share,
        shown=finite is not None and finite >= needs and (share is None or share < OVERLAP_ALLOWED),
    )


def overlap_mm(first: PlacedTooth, second: PlacedTooth, view: View) -> float:
    """How far the shadows of two neighbouring crowns overlap at their contact, in mm at the tooth.

    Parameters
    ----------
    first, second : in arch order: the first stands to the left on the image
    """
    left = view.project(first.contact_belt)
    right = view.project(second.contact_belt)
    grown = 0.5 * float(view.magnification(first.neck)[0] + view.magnification(second.neck)[0])
    return float(left[:, 0].max() - right[:, 0].min()) / grown


def length_truth(tooth: PlacedTooth, view: View) -> ToothTruth:
    """A tooth's length in the mouth and on the image."""
    edge = tooth.to_world([[0.0, 0.0, -tooth.shape.size.crown_mm]])
    tips = [tooth.apex(code) for code in tooth.roots] or [tooth.to_world([[0.0, 0.0, 0.0]])[0]]
    # Along the tooth's own axis, so that a splayed root does not count as length.
    deepest = max(float(tooth.to_local(tip)[0, 2]) for tip in tips)
    ends = np.concatenate([edge, tooth.to_world([[0.0, 0.0, deepest]])])
    true = float(np.linalg.norm(ends[1] - ends[0]))
    places = view.project(ends)
    projected = float(np.linalg.norm(places[1] - places[0]))
    grown = float(view.magnification(ends).mean())
    return ToothTruth(tooth=tooth.tooth, true_mm=true, projected_mm=projected, ratio=projected / true / grown)


def collimated_fraction(view: View) -> float:
    """Share of the receptor's area that the beam does not reach."""
    grid = pixel_grid(view.size_mm, _AREA_GRID, _AREA_GRID)
    u, v = np.broadcast_arrays(grid.u[None, :], grid.v[:, None])
    return float((view.field.inside_mm(u, v) < 0).mean())
