"""Where tube and receptor stand for a projection, and how a technique error moves them.

Paralleling: the receptor stands parallel to the long axes of the teeth, the beam is square to it and goes through
the contacts. Bisecting: the receptor leans against the teeth, the beam is square to the bisector of the angle
between receptor and teeth. Bitewing: the receptor upright along the row, the beam pointing some 8 degrees down
(published lists: +8 to +10). Occlusal: the receptor flat between the teeth, the beam at the published angle to it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from app.core.targets import EVERY_ROOT, Target, kind, root, teeth
from app.core.teeth import Tooth, arch
from app.core.templates import Orientation, Slot, SlotKind
from app.imaging.simulator.projection import CollimatorShape

Technique = Literal["paralleling", "bisecting"]

OBLIQUE_DEG: dict[str, float] = {"distal-oblique": -10.0, "premolar-shifted": 8.0}
"""How far the tube is turned forward of square to the row, by the ending of a projection's key: a distal oblique
view comes from behind (10 degrees, common practice), a premolar view moved forward from further forward."""


@dataclass(frozen=True, kw_only=True)
class SlotPose:
    """A projection as the simulator needs it.

    Parameters
    ----------
    kind : bitewing, periapical or occlusal
    size : nominal receptor size, 0 to 4
    orientation : which way its long side stands
    shows : targets it promises, ``apex:16:*`` for all roots
    oblique_deg : tube turned forward (+) or backward (-) of square to the row
    """

    kind: SlotKind
    size: int
    orientation: Orientation
    shows: tuple[Target, ...]
    oblique_deg: float = 0.0

    @classmethod
    def of(cls, slot: Slot) -> SlotPose:
        """The pose of a template's slot; where it names no receptor, size 2 with the long side level."""
        receptor = slot.receptor
        turned = [deg for ending, deg in OBLIQUE_DEG.items() if (slot.projection or "").endswith(ending)]
        return cls(
            kind=slot.kind,
            size=2 if receptor is None else receptor.size,
            orientation="landscape" if receptor is None else receptor.orientation,
            shows=slot.shows,
            oblique_deg=turned[0] if turned else 0.0,
        )

    def teeth(self) -> tuple[Tooth, ...]:
        """Teeth of which the crown or an apex is promised, each once."""
        return tuple(dict.fromkeys(t for target in self._of("crown", "apex") for t in teeth(target)))

    def apices(self) -> tuple[tuple[Tooth, str], ...]:
        """Promised apices as (tooth, root code or ``*``)."""
        return tuple((teeth(target)[0], root(target) or EVERY_ROOT) for target in self._of("apex"))

    def contacts(self) -> tuple[tuple[Tooth, Tooth], ...]:
        """Promised contacts, teeth in arch order."""
        return tuple((teeth(target)[0], teeth(target)[1]) for target in self._of("contact"))

    def ridges(self) -> tuple[Tooth, ...]:
        """Positions whose bone is promised."""
        return tuple(teeth(target)[0] for target in self._of("ridge"))

    def arches(self) -> tuple[str, ...]:
        """``upper``, ``lower`` or both, as promised."""
        return tuple(dict.fromkeys(arch(t) for target in self.shows for t in teeth(target)))

    def _of(self, *kinds: str) -> Iterable[Target]:
        return (target for target in self.shows if kind(target) in kinds)


@dataclass(frozen=True, kw_only=True)
class TechniqueErrors:
    """How an exposure differs from a good one. All zero (and exposure 1) is a good one.

    Parameters
    ----------
    vertical_deg : tube turned steeper (+) or flatter (-): pointing more down above and in bitewings, more up below
    horizontal_deg : tube moved forward, toward the mesial (+), or backward; at the midline to the patient's left
    shift_mesial_mm : receptor (and the tube with it) moved forward; at the midline to the patient's left
    shift_depth_mm : receptor (and the tube with it) moved toward the roots; in a bitewing downward
    tilt_deg : apical (in a bitewing upper) edge of the receptor leaning away from the teeth, the tube standing
    rotation_deg : receptor turned in its own plane, counter-clockwise on the image's scene
    distance_mm : added to the distance from focus to receptor
    collimator_offset_mm : collimator moved to the right and up, seen from the tube, measured at the receptor
    motion_mm : length of the patient's movement during the exposure, at the teeth
    motion_direction_deg : 0 along the row, 90 along the teeth
    exposure : factor on the right exposure, > 0
    """

    vertical_deg: float = 0.0
    horizontal_deg: float = 0.0
    shift_mesial_mm: float = 0.0
    shift_depth_mm: float = 0.0
    tilt_deg: float = 0.0
    rotation_deg: float = 0.0
    distance_mm: float = 0.0
    collimator_offset_mm: tuple[float, float] = (0.0, 0.0)
    motion_mm: float = 0.0
    motion_direction_deg: float = 0.0
    exposure: float = 1.0


GOOD = TechniqueErrors()
"""An exposure without a technique error."""


@dataclass(frozen=True, kw_only=True)
class Equipment:
    """Tube, collimator and technique.

    Parameters
    ----------
    distance_mm : focus to receptor (common practice: 200 to 400 mm)
    collimator : rectangular or round
    collimator_beyond_mm : how far a rectangular field reaches beyond each edge of the receptor
    collimator_diameter_mm : of a round field at the receptor (6 cm at the skin, from memory)
    technique : for periapicals
    kvp : peak voltage
    """

    distance_mm: float = 350.0
    collimator: CollimatorShape = "rectangular"
    collimator_beyond_mm: float = 3.0
    collimator_diameter_mm: float = 66.0
    technique: Technique = "paralleling"
    kvp: float = 65.0
