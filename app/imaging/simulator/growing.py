"""Growing a mouth from a seed: sizes, places along the arch, lean and fillings of an invented patient."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from app.core.dentition import Dentition, ToothState
from app.core.teeth import ArchName, Tooth, arch, is_primary, ordinal, quadrant
from app.imaging.simulator.arch import ArchCurve, arch_curve
from app.imaging.simulator.mouth import Filling, Jaw, Mouth, PlacedTooth, Stand, contact_height
from app.imaging.simulator.published import tissues, tooth_size
from app.imaging.simulator.solids import Floats
from app.imaging.simulator.tooth_shape import scaled, tooth_shape

JAWS_APART_MM = 3.0
"""Between the biting edges of upper and lower teeth, on a tab or bite block."""
LOWER_BEHIND_MM = 2.5
"""How far the lower front contact stands behind the upper one."""
GROWING_ROOT_SHARE = 0.45
"""How much of its root a child's unerupted tooth has (from memory: a third to a half at six to nine years)."""


UNERUPTED_MM, UNDER_PRIMARY_MM = 9.0, 10.0
"""How far an unerupted tooth lies beyond its later place, free and under a primary tooth (from memory)."""


class Spread(NamedTuple):
    """How much one mouth differs from the average: half widths of even distributions."""

    scale: float = 0.05
    turn_deg: float = 2.0
    lean_deg: float = 2.0
    tip_deg: float = 1.5
    bone_loss_mm: float = 1.2


AVERAGE = Spread(0.0, 0.0, 0.0, 0.0, 0.0)
"""Every tooth of the published average size, standing regularly."""


def grown_mouth(
    dentition: Dentition, seed: int, spread: Spread | None = None, *, filled_share: float = 0.25
) -> Mouth:
    """The mouth of an invented patient.

    Parameters
    ----------
    spread : how far it may differ from the average; None for the usual spread
    filled_share : share of the teeth behind the canines that carry a filling or crown
    """
    spread = Spread() if spread is None else spread
    rng = np.random.default_rng((seed, 1))
    scale = 1.0 + spread.scale * float(rng.uniform(-1, 1))
    loss = spread.bone_loss_mm * float(rng.uniform(0, 1)) ** 2
    teeth: dict[Tooth, PlacedTooth] = {}
    jaws: dict[ArchName, Jaw] = {}
    for jaw in ("upper", "lower"):
        placed, found = _grown_jaw(jaw, dentition, rng, spread, scale, loss, filled_share)
        teeth.update(placed)
        jaws[jaw] = found
    return Mouth(dentition=dentition, seed=seed, teeth=teeth, jaws=jaws)


def _row(dentition: Dentition, jaw: ArchName) -> tuple[tuple[Tooth, ...], tuple[Tooth, ...], set[Tooth]]:
    """Positions that take room in the row from right to left, teeth under them, and spaces that have closed."""
    closed = {tooth for pair in dentition.closed_spaces for tooth in dentition.between(*pair)}
    here = [tooth for tooth in dentition.positions() if arch(tooth) == jaw]
    through = {t for t in here if dentition.state(t) not in (ToothState.UNERUPTED, ToothState.MISSING)}
    taken = {(quadrant(t), ordinal(t)) for t in through}
    under = [t for t in here if dentition.state(t) is ToothState.UNERUPTED]
    room: list[Tooth] = []
    for tooth in here:
        place = (quadrant(tooth), ordinal(tooth))
        if tooth in through:
            room.append(tooth)
        elif place not in taken and tooth not in closed:
            room.append(tooth)
            taken.add(place)
    return tuple(room), tuple(under), closed


def _grown_jaw(
    jaw: ArchName,
    dentition: Dentition,
    rng: np.random.Generator,
    spread: Spread,
    scale: float,
    loss: float,
    filled_share: float,
) -> tuple[dict[Tooth, PlacedTooth], Jaw]:
    room, under, _ = _row(dentition, jaw)
    sides = {
        -1: [t for t in reversed(room) if quadrant(t) in (1, 4)],
        1: [t for t in room if quadrant(t) in (2, 3)],
    }
    widths = {t: tooth_size(t).mesiodistal_mm * scale for t in room}
    # The published curve ends at the second molars (in a primary row at its last tooth).
    lengths = [sum(widths[t] for t in sides[s] if ordinal(t) <= 7) or 50.0 for s in (-1, 1)]
    curve = arch_curve(jaw, lengths)
    offset_y = 0.0 if jaw == "upper" else LOWER_BEHIND_MM
    up = 1 if jaw == "upper" else -1
    spans: dict[Tooth, tuple[float, float]] = {}
    for sign, side in sides.items():
        at = 0.0
        for tooth in side:
            end = curve.step_of_chord(at, widths[tooth], sign)
            spans[tooth] = (min(at, end), max(at, end))
            at = end
    for tooth in under:
        spans.setdefault(tooth, _span_under(tooth, spans, curve, scale))
    placed: dict[Tooth, PlacedTooth] = {}
    stands: list[Stand] = []
    for tooth in dict.fromkeys((*room, *under)):
        state = dentition.state(tooth) or ToothState.MISSING
        jitter = rng.uniform(-1, 1, 3) * (spread.turn_deg, spread.lean_deg, spread.tip_deg)
        roll = rng.uniform(0, 1, 2)
        found = _placed(
            tooth, state, dentition, curve, offset_y, spans[tooth], scale, jitter, loss, up, tooth in room
        )
        if state is not ToothState.MISSING:
            fillings = _fillings(tooth, state, roll, filled_share)
            placed[tooth] = replace(found, fillings=fillings)
        if tooth in room:
            stands.append(_stand(found, curve))
    stands.sort()
    return placed, Jaw(
        arch=jaw, curve=curve, offset_y=offset_y, stands=tuple(stands), spans=spans, bone_loss_mm=loss
    )


def _stand(tooth: PlacedTooth, curve: ArchCurve) -> Stand:
    """What the bone needs to know of the position; its edge runs on over a place without a root."""
    flat = curve.outward(tooth.along)
    inward = -float(tooth.axes[2, :2] @ flat)
    bare = tooth.state in (ToothState.MISSING, ToothState.PONTIC)
    hidden = UNERUPTED_MM if tooth.state is ToothState.UNERUPTED else 0.0
    return Stand(
        along=tooth.along,
        # Over a tooth that has not come through the bone's edge stays where the row has it.
        neck_z=float(tooth.neck[2]) - float(np.sign(tooth.axes[2, 2])) * hidden,
        lean_tan=inward / abs(float(tooth.axes[2, 2])),
        half_b=0.5 * tooth.shape.size.buccolingual_neck_mm + (0.2 if bare else 0.7),
        bare=bare,
    )


def _span_under(
    tooth: Tooth, spans: Mapping[Tooth, tuple[float, float]], curve: ArchCurve, scale: float
) -> tuple[float, float]:
    """Where an unerupted tooth lies along the curve: under the tooth at its place, else at the end of the row."""
    same = [t for t in spans if quadrant(t) == quadrant(tooth) and ordinal(t) == ordinal(tooth)]
    width = tooth_size(tooth).mesiodistal_mm * scale
    if same:
        middle = 0.5 * sum(spans[same[0]])
    else:
        sign = -1 if quadrant(tooth) in (1, 4) else 1
        ends = [sign * e for t, span in spans.items() if quadrant(t) == quadrant(tooth) for e in span]
        middle = sign * (max(ends, default=8.0 * ordinal(tooth)) + 0.55 * width)
    return (middle - 0.5 * width, middle + 0.5 * width)


def _placed(
    tooth: Tooth,
    state: ToothState,
    dentition: Dentition,
    curve: ArchCurve,
    offset_y: float,
    span: tuple[float, float],
    scale: float,
    jitter: Floats,
    loss: float,
    up: int,
    in_row: bool,
) -> PlacedTooth:
    size = scaled(tooth_size(tooth), scale)
    ends = curve.at(np.array(span))
    along_arch = np.array([*(ends[1] - ends[0]), 0.0])
    along_arch /= np.linalg.norm(along_arch)
    outward = np.array([along_arch[1], -along_arch[0], 0.0])
    mesial = 1 if quadrant(tooth) in (1, 4) else -1
    turn, lean, tip = np.deg2rad(jitter + np.array([0.0, size.lean_deg, size.tip_deg]))
    along_arch, outward = (
        along_arch * np.cos(turn) + outward * np.sin(turn),
        outward * np.cos(turn) - along_arch * np.sin(turn),
    )
    rootward = np.array([0.0, 0.0, float(up)])
    out = outward * np.cos(lean) + rootward * np.sin(lean)
    down = rootward * np.cos(lean) - outward * np.sin(lean)
    axes = np.stack(
        [
            along_arch * np.cos(tip) + mesial * np.sin(tip) * down,
            out,
            down * np.cos(tip) - mesial * np.sin(tip) * along_arch,
        ]
    )
    contact = contact_height(size)
    edge = up * (0.5 * JAWS_APART_MM)
    middle = np.array([*(0.5 * (ends[0] + ends[1])), edge + up * (size.crown_mm + contact)])
    middle[1] += offset_y
    if not in_row or state is ToothState.UNERUPTED:
        primary_above = not is_primary(tooth) and ordinal(tooth) <= 5 and not in_row
        middle[2] += up * ((UNDER_PRIMARY_MM if primary_above else UNERUPTED_MM) * scale)
    grown = tooth_size(tooth)
    if state is ToothState.UNERUPTED and dentition.kind != "permanent":
        shorter = GROWING_ROOT_SHARE * grown.root_mm
        grown = replace(grown, root_mm=shorter, palatal_root_mm=None if grown.palatal_root_mm is None else shorter)
    crest = tissues().crest_below_neck_mm + loss
    if state is ToothState.UNERUPTED:
        crest = -size.crown_mm - 3.0
    return PlacedTooth(
        tooth=tooth,
        state=state,
        shape=tooth_shape(tooth, grown, dentition.roots_of(tooth), scale=scale),
        neck=middle - contact * axes[2],
        axes=axes,
        mesial=mesial,
        crest=crest,
        along=0.5 * (span[0] + span[1]),
    )


def _fillings(tooth: Tooth, state: ToothState, roll: Floats, share: float) -> tuple[Filling, ...]:
    if state is ToothState.IMPLANT or state is ToothState.PONTIC:
        return ("crown",) if roll[0] < 0.5 else ("ceramic_crown",)
    if state is not ToothState.PRESENT or roll[0] >= (share if ordinal(tooth) >= 4 else 0.3 * share):
        return ()
    if ordinal(tooth) <= 3:
        return ("resin",)
    choice = float(roll[1])
    if choice < 0.42:
        return ("metal",)
    if choice < 0.75:
        return ("resin",)
    if choice < 0.88:
        return ("crown", "root_filling")
    return ("ceramic_crown", "root_filling")
