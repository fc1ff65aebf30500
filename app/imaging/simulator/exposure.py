"""One exposure: from a mouth and the place of tube and receptor to the radiograph with its ground truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.imaging.simulator.aim import Aim, aimed
from app.imaging.simulator.bone import bigger, bone_layers
from app.imaging.simulator.detector import Detector, Stored, moved, stored
from app.imaging.simulator.mouth import Mouth
from app.imaging.simulator.pose import GOOD, Equipment, SlotPose, TechniqueErrors
from app.imaging.simulator.projection import View
from app.imaging.simulator.published import linear_attenuation_per_mm
from app.imaging.simulator.raycast import PixelGrid, add_tooth, pixel_grid
from app.imaging.simulator.solids import Singles
from app.imaging.simulator.texture import seen_through, sheet
from app.imaging.simulator.truth import Truth, truth_of

WORK_MM = 0.062
"""Side of the pixels in which shadows are counted; finer images are drawn from these. A receptor's own blur is
wider."""
COARSE_MM = 0.25
_MARROW = {"upper": 0.26, "lower": 0.30}
"""Share of bone in spongy bone (from memory: 0.15 to 0.35)."""
_CONTRAST = 0.62
"""Standard deviation of the spongy pattern as a share of its mean."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Simulated:
    """A simulated radiograph.

    Parameters
    ----------
    pixels : shape (rows, columns), uint8 or uint16, higher is denser tissue
    bits : 8, 12 or 16
    """

    pixels: Stored
    bits: int
    pixel_mm: float
    truth: Truth


def expose(
    slot: SlotPose,
    mouth: Mouth,
    *,
    seed: int = 0,
    errors: TechniqueErrors = GOOD,
    equipment: Equipment | None = None,
    detector: Detector | None = None,
    width: int = 1300,
    bits: int = 8,
) -> Simulated:
    """Take one radiograph.

    Parameters
    ----------
    seed : of the noise; the mouth has its own
    width : columns; rows follow from the receptor's shape

    Returns
    -------
    Simulated
        The same arguments give the same pixels.

    Raises
    ------
    ValueError
        Where the projection shows nothing that this patient has, or a number is out of its range.
    """
    equipment = Equipment() if equipment is None else equipment
    detector = Detector() if detector is None else detector
    if errors.exposure <= 0:
        raise ValueError(f"exposure must be above 0; got {errors.exposure}")
    aim = aimed(slot, mouth, errors, equipment)
    view = aim.view
    rows = max(1, round(width * view.size_mm[1] / view.size_mm[0]))
    pixel_mm = view.size_mm[0] / width
    factor = max(1, round(WORK_MM / pixel_mm))
    work = pixel_grid(view.size_mm, -(-width // factor), -(-rows // factor))
    signal = np.exp(-optical_depth(mouth, view, work, equipment.kvp))
    motion = motion_px(aim, errors, work.step)
    signal = moved(signal, *motion)
    signal *= _beam(view, work, equipment)
    signal = enlarged(signal, factor)[:rows, :width]
    rng = np.random.default_rng((seed, 7))
    grey = detector.grey(signal, pixel_mm, rng, errors.exposure)
    return Simulated(
        pixels=stored(grey, bits),
        bits=bits,
        pixel_mm=pixel_mm,
        truth=truth_of(aim, mouth, errors, pixel_mm),
    )


def motion_px(aim: Aim, errors: TechniqueErrors, pixel_mm: float) -> tuple[float, float]:
    """The movement of the teeth during the exposure as it shows on the image, to the right and up, pixels."""
    length = errors.motion_mm * float(aim.view.magnification(aim.pivot)[0]) / pixel_mm
    turn = np.deg2rad(errors.motion_direction_deg)
    return (length * float(np.cos(turn)), length * float(np.sin(turn)))


def optical_depth(mouth: Mouth, view: View, work: PixelGrid, kvp: float) -> Singles:
    """Optical depth of everything between tube and receptor for each working pixel, float32."""
    attenuation = linear_attenuation_per_mm(kvp)
    depth = np.zeros(work.shape, dtype=np.float32)
    displaced = np.zeros(work.shape, dtype=np.float32)
    for tooth in mouth.standing:
        add_tooth(tooth, view, work, attenuation, depth, displaced)
    factor = max(1, round(COARSE_MM / work.step))
    coarse = pixel_grid(view.size_mm, -(-work.shape[1] // factor), -(-work.shape[0] // factor))
    bone, soft = attenuation["cortical_bone"], attenuation["soft_tissue"]
    for jaw, found in bone_layers(mouth, view, coarse).items():
        share = _MARROW[jaw]
        spongy = share * bone + (1.0 - share) * soft
        pattern = np.zeros(work.shape, dtype=np.float32)
        whole = np.zeros(work.shape, dtype=np.float32)
        for side in (0, 1):
            length = bigger(found.spongy[side], coarse, work)
            along = bigger(found.along[side], coarse, work)
            height = bigger(found.height[side], coarse, work)
            texture = seen_through(sheet(mouth.seed, jaw, side), along, height)
            pattern += length * texture
            whole += length
        cortical = bigger(found.cortical, coarse, work)
        # Where a tooth stands its socket takes the place of spongy bone first, then of the plates.
        left = np.maximum(whole - displaced, 0.0)
        thinner = np.maximum(displaced - whole, 0.0)
        kept = left / np.maximum(whole, 1e-3)
        depth += left * np.float32(spongy)
        depth += pattern * kept * np.float32(share * bone * _CONTRAST)
        depth += np.maximum(cortical - 0.5 * thinner, 0.3 * cortical) * np.float32(bone)
        depth += bigger(found.soft, coarse, work) * np.float32(soft)
    return np.maximum(depth, 0.0)


def _beam(view: View, work: PixelGrid, equipment: Equipment) -> Singles:
    """The beam without anything in the way: collimated, and weaker with the square of the distance."""
    u, v = np.broadcast_arrays(work.u[None, :], work.v[:, None])
    inside = view.field.inside_mm(u, v)
    open_share = np.clip(inside / view.field.penumbra_mm + 0.5, 0.0, 1.0)
    straight = float((view.source - view.centre) @ view.u), float((view.source - view.centre) @ view.v)
    away = (u - straight[0]) ** 2 + (v - straight[1]) ** 2 + view.distance_mm**2
    return np.asarray(open_share * (equipment.distance_mm**2 / away), dtype=np.float32)


def enlarged(values: Singles, factor: int) -> Singles:
    """Each pixel drawn as ``factor`` by ``factor`` pixels, bilinear between their middles."""
    if factor == 1:
        return values
    for axis in (0, 1):
        count = values.shape[axis]
        place = np.clip((np.arange(count * factor) + 0.5) / factor - 0.5, 0.0, count - 1.0)
        first = np.minimum(place.astype(np.intp), count - 2)
        part = (place - first).astype(np.float32)
        shape = (-1, 1) if axis == 0 else (1, -1)
        low = values.take(first, axis=axis)
        values = low + (values.take(first + 1, axis=axis) - low) * part.reshape(shape)
    return values
