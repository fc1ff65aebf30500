"""Radiographs of the demo as files: one without fault, one with a cone cut, and altered copies."""

from __future__ import annotations

import io
from functools import cache

import numpy as np
from PIL import Image

from app.core.dentition import Dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.simulator import SlotPose, TechniqueErrors, expose, grown_mouth


@cache
def _mouth():  # type: ignore[no-untyped-def]
    return grown_mouth(Dentition(), 5)


@cache
def pixels(slot: str = "UR-molar", *, offset_mm: float = 0.0, again: bool = False) -> bytes:
    """A simulated radiograph, 520 pixels wide, PNG."""
    pose = SlotPose.of(builtin_templates()["adult-18"].slot(slot))
    errors = TechniqueErrors(collimator_offset_mm=(offset_mm, 0.0))
    if again:
        errors = TechniqueErrors(horizontal_deg=4.0, vertical_deg=4.0, shift_mesial_mm=2.5, shift_depth_mm=1.0)
    return png(expose(pose, _mouth(), seed=int(again), errors=errors, width=520).pixels)


def png(levels: np.ndarray) -> bytes:
    out = io.BytesIO()
    Image.fromarray(levels).save(out, "PNG")
    return out.getvalue()


def simulated(slot: str = "UR-molar") -> bytes:
    """Without fault."""
    return pixels(slot)


def cone_cut(slot: str = "UR-molar") -> bytes:
    """The beam missed a part at one side."""
    return pixels(slot, offset_mm=13.0)


def retaken(slot: str = "UR-molar") -> bytes:
    """The same region once more: receptor and tube put up anew, a few millimetres and degrees from before."""
    return pixels(slot, again=True)


@cache
def from_the_same_stand(slot: str = "UR-molar") -> bytes:
    """The same region once more, with nothing moved."""
    pose = SlotPose.of(builtin_templates()["adult-18"].slot(slot))
    return png(expose(pose, _mouth(), seed=1, width=520).pixels)


def altered(data: bytes, how: str) -> bytes:
    """A copy of a file: saved again, at another size, turned or mirrored."""
    picture = Image.open(io.BytesIO(data)).convert("L")
    out = io.BytesIO()
    match how:
        case "re-encoded":
            picture.save(out, "JPEG", quality=70)
        case "resized":
            picture.resize((picture.width * 2 // 3, picture.height * 2 // 3), Image.Resampling.LANCZOS).save(
                out, "PNG"
            )
        case "rotated-90":
            picture.transpose(Image.Transpose.ROTATE_270).save(out, "PNG")
        case "mirrored":
            picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(out, "PNG")
        case _:
            raise ValueError(how)
    return out.getvalue()
