"""From a projection, its errors and a mouth to the place of tube and receptor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.core import targets
from app.core.targets import Target
from app.core.teeth import arch, ordinal
from app.imaging.simulator.landmarks import target_points, wanted_targets
from app.imaging.simulator.mouth import Mouth
from app.imaging.simulator.pose import GOOD, Equipment, SlotPose, TechniqueErrors
from app.imaging.simulator.projection import Field, View
from app.imaging.simulator.published import receptor_sizes_mm
from app.imaging.simulator.solids import Floats

BITEWING_DEG = 8.0
"""Vertical angle of a bitewing, + pointing down (published lists: +8, +10; range +5 to +10)."""
OCCLUSAL_DEG = {"upper": 65.0, "lower": 55.0}
"""Angle between beam and receptor of an occlusal view (published lists: +60 to +65 above; below -55)."""
BEYOND_APEX_MM = 2.5
"""Bone that a periapical is placed to show beyond the apices (published: at least 2 to 3 mm)."""
BEYOND_EDGE_MM = 2.0
"""Room that a view is placed to leave beyond the biting edges (published: about 3 mm)."""

_AWAY_MM = {("upper", True): 17.0, ("upper", False): 15.0, ("lower", True): 12.0, ("lower", False): 9.0}
"""Middle of the teeth to a parallel receptor, by jaw and whether front teeth are shown (common practice): far back
in the palate above, between tongue and teeth below."""
_LEAN_DEG = {("upper", True): 32.0, ("upper", False): 24.0, ("lower", True): 16.0, ("lower", False): 8.0}
"""Angle between teeth and a receptor that leans against them (common practice)."""
_SPARE_BELOW = 0.2
"""Share of a receptor's spare height by which it is set deeper than the middle: holders keep the biting edges near
its edge."""
_BITEWING_GAP_MM = 2.5
"""Innermost crown surface to the receptor of a bitewing."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Aim:
    """A view with the directions its errors are measured in.

    Parameters
    ----------
    view : where tube and receptor stand
    pivot : what the tube is aimed at and turned about, shape (3,), mm
    mesial : +1 where the front of the mouth lies to the right of the image, else -1
    rootward : unit vector toward the roots in the plane of the teeth (in a bitewing upward)
    wanted : what the projection owes of this patient
    """

    view: View
    pivot: Floats
    mesial: int
    rootward: Floats
    wanted: tuple[Target, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Stance:
    """An error-free stance: axes of the teeth, lean of the receptor, beam's angle above square, and distance."""

    u: Floats
    v: Floats
    rootward: Floats
    pivot: Floats
    lean_deg: float
    beam_deg: float
    away_mm: float


def aimed(slot: SlotPose, mouth: Mouth, errors: TechniqueErrors = GOOD, equipment: Equipment | None = None) -> Aim:
    """Where tube and receptor stand.

    Raises
    ------
    ValueError
        Where the projection shows nothing that this patient has.
    """
    equipment = Equipment() if equipment is None else equipment
    wanted = wanted_targets(mouth, slot.shows)
    if not wanted:
        raise ValueError("the projection shows nothing that this dentition asks for")
    points = np.concatenate([target_points(mouth, target) for target in wanted])
    mesial = -1 if points[:, 0].min() > -3.0 and points[:, 0].max() > 6.0 else 1
    if slot.kind == "occlusal":
        stance = _occlusal(mouth, wanted)
    elif slot.kind == "bitewing":
        stance = _bitewing(mouth, wanted)
    else:
        stance = _periapical(slot, mouth, wanted, equipment)
    return _applied(stance, slot, errors, equipment, mesial, wanted)


def _applied(
    stance: _Stance,
    slot: SlotPose,
    errors: TechniqueErrors,
    equipment: Equipment,
    mesial: int,
    wanted: tuple[Target, ...],
) -> Aim:
    u, v, rootward = stance.u, stance.v, stance.rootward
    square = np.cross(u, v)
    good_beam = _turned(square, rootward, stance.beam_deg)
    centre = stance.pivot - good_beam * (stance.away_mm / float(good_beam @ square))
    beam = _turned(square, rootward, stance.beam_deg + errors.vertical_deg)
    beam = _turned(beam, mesial * u, slot.oblique_deg + errors.horizontal_deg)
    source = stance.pivot + beam * (equipment.distance_mm + errors.distance_mm - stance.away_mm)
    deeper = -v if slot.kind == "bitewing" else rootward
    shift = mesial * u * errors.shift_mesial_mm + deeper * errors.shift_depth_mm
    lean = stance.lean_deg + errors.tilt_deg
    towards = 1.0 if float(rootward @ v) > 0 else -1.0
    stands = _turned(v, -towards * square, lean)
    turn = np.deg2rad(errors.rotation_deg)
    right, up = u * np.cos(turn) + stands * np.sin(turn), stands * np.cos(turn) - u * np.sin(turn)
    short, long = receptor_sizes_mm()[slot.size]
    size = (long, short) if slot.orientation == "landscape" else (short, long)
    field = Field(
        shape=equipment.collimator,
        centre=(0.0, 0.0),
        half=(0.5 * size[0] + equipment.collimator_beyond_mm, 0.5 * size[1] + equipment.collimator_beyond_mm)
        if equipment.collimator == "rectangular"
        else (0.5 * equipment.collimator_diameter_mm, 0.5 * equipment.collimator_diameter_mm),
    )
    unaimed = View(source=source + shift, centre=centre + shift, u=right, v=up, size_mm=size, field=field)
    # The collimator sits on the tube: its middle is where the central ray meets the receptor.
    middle = unaimed.project(stance.pivot + shift)[0]
    offset = errors.collimator_offset_mm
    view = View(
        source=unaimed.source,
        centre=unaimed.centre,
        u=right,
        v=up,
        size_mm=size,
        field=Field(
            shape=field.shape,
            centre=(float(middle[0]) + offset[0], float(middle[1]) + offset[1]),
            half=field.half,
        ),
    )
    return Aim(view=view, pivot=stance.pivot + shift, mesial=mesial, rootward=rootward, wanted=wanted)


def _turned(start: Floats, toward: Floats, degrees: float) -> Floats:
    angle = np.deg2rad(degrees)
    turned: Floats = start * np.cos(angle) + toward * np.sin(angle)
    return turned


def _row_direction(mouth: Mouth, wanted: tuple[Target, ...]) -> Floats:
    """Along the row, level, to the patient's left: square to the beam that opens the promised contacts best."""
    found: list[Floats] = []
    for target in wanted:
        if targets.kind(target) == "contact":
            found += [_along(mouth.teeth[t].axes[0]) for t in targets.teeth(target)]
    if not found:
        found = [_along(mouth.teeth[t].axes[0]) for t in _teeth(mouth, wanted)]
    if not found:
        for target in wanted:
            (tooth,) = targets.teeth(target)
            jaw = mouth.jaws[arch(tooth)]
            low, high = jaw.spans[tooth]
            found.append(_along(jaw.point(high, 0.0) - jaw.point(low, 0.0)))
    return _along(np.sum(found, axis=0))


def _along(vector: Floats) -> Floats:
    level = np.array([vector[0], vector[1], 0.0])
    return np.asarray(level / np.linalg.norm(level))


def _teeth(mouth: Mouth, wanted: tuple[Target, ...]) -> list[str]:
    named = (t for target in wanted if targets.kind(target) in ("crown", "apex") for t in targets.teeth(target))
    return [t for t in dict.fromkeys(named) if t in mouth.teeth]


def _is_front(wanted: tuple[Target, ...]) -> bool:
    ordinals = [ordinal(t) for target in wanted for t in targets.teeth(target)]
    return float(np.median(ordinals)) <= 3


def _periapical(slot: SlotPose, mouth: Mouth, wanted: tuple[Target, ...], equipment: Equipment) -> _Stance:
    u = _row_direction(mouth, wanted)
    teeth = _teeth(mouth, wanted)
    jaw = arch(targets.teeth(wanted[0])[0])
    up = 1.0 if jaw == "upper" else -1.0
    axis = np.sum([mouth.teeth[t].axes[2] for t in teeth], axis=0) if teeth else np.array([0.0, 0.0, up])
    axis = axis - float(axis @ u) * u
    rootward = axis / np.linalg.norm(axis)
    v = up * rootward
    square = np.cross(u, v)
    across: list[float] = []
    upward: list[float] = []
    depth: list[float] = []
    for target in wanted:
        points = target_points(mouth, target)
        across += [float(p @ u) for p in points]
        root_reach = [float(p @ rootward) for p in points]
        beyond = {"apex": BEYOND_APEX_MM, "crown": -BEYOND_EDGE_MM}.get(targets.kind(target), 0.0)
        upward += [max(root_reach), min(root_reach)]
        upward.append((max if beyond > 0 else min)(root_reach) + beyond)
        depth += [float(np.mean(points @ square))]
    short, long = receptor_sizes_mm()[slot.size]
    spare = max(0.0, (long if slot.orientation == "portrait" else short) - (max(upward) - min(upward)))
    middle_root = 0.5 * (min(upward) + max(upward)) + _SPARE_BELOW * spare
    pivot = 0.5 * (min(across) + max(across)) * u + middle_root * rootward + float(np.mean(depth)) * square
    place = (jaw, _is_front(wanted))
    if equipment.technique == "bisecting":
        lean = _LEAN_DEG[place]
        away = 5.0 + 0.5 * (max(upward) - min(upward)) * float(np.sin(np.deg2rad(lean)))
        return _Stance(u=u, v=v, rootward=rootward, pivot=pivot, lean_deg=lean, beam_deg=0.5 * lean, away_mm=away)
    return _Stance(u=u, v=v, rootward=rootward, pivot=pivot, lean_deg=0.0, beam_deg=0.0, away_mm=_AWAY_MM[place])


def _bitewing(mouth: Mouth, wanted: tuple[Target, ...]) -> _Stance:
    u = _row_direction(mouth, wanted)
    v = np.array([0.0, 0.0, 1.0])
    square = np.cross(u, v)
    points = np.concatenate([target_points(mouth, target) for target in wanted])
    across, depth = points @ u, points @ square
    middle_depth = float(np.mean(depth))
    pivot = 0.5 * (float(across.min()) + float(across.max())) * u + middle_depth * square
    return _Stance(
        u=u,
        v=v,
        rootward=v,
        pivot=pivot,
        lean_deg=0.0,
        beam_deg=BITEWING_DEG,
        away_mm=middle_depth - float(depth.min()) + _BITEWING_GAP_MM,
    )


def _occlusal(mouth: Mouth, wanted: tuple[Target, ...]) -> _Stance:
    jaw = arch(targets.teeth(wanted[0])[0])
    up = 1.0 if jaw == "upper" else -1.0
    u = np.array([1.0, 0.0, 0.0])
    v = np.array([0.0, up, 0.0])
    rootward = np.array([0.0, 1.0, 0.0])
    square = np.cross(u, v)
    beam_deg = OCCLUSAL_DEG[jaw] - 90.0
    beam = _turned(square, rootward, beam_deg)
    points = np.concatenate([target_points(mouth, target) for target in wanted])
    heights = points @ square
    landed = points - beam * (heights / float(beam @ square))[:, None]
    across, back = landed @ u, landed @ v
    on_receptor = 0.5 * (across.min() + across.max()) * u + 0.5 * (back.min() + back.max()) * v
    away = float(np.mean(heights))
    return _Stance(
        u=u,
        v=v,
        rootward=rootward,
        pivot=on_receptor + beam * (away / float(beam @ square)),
        lean_deg=0.0,
        beam_deg=beam_deg,
        away_mm=away,
    )
