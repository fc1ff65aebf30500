"""Pictures of the demo: simulated radiographs of the patient's own charted teeth, with the fault the review names.

Simulating one takes about a second, so those that the demo needs lie ready in ``seed/radiographs``, each under a
name made from what it shows; one that is not there is simulated when asked for. ``python -m seed.radiographs``
makes them.
Every picture says on itself and in its file that it is simulated.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from app.core.dentition import Dentition
from app.core.exposures import Shortfall, ShortfallCode
from app.core.templates import Slot
from app.exchange.series_file import write_dentition
from app.imaging.simulator import Equipment, SlotPose, TechniqueErrors, expose, grown_mouth
from app.imaging.simulator.mouth import Mouth
from app.imaging.simulator.picture import Picture, file_bytes, labelled

FOLDER = Path(__file__).resolve().parent / "radiographs"
JPEG_QUALITY = 78

_ERRORS: dict[ShortfallCode, TechniqueErrors] = {
    ShortfallCode.OVERLAP: TechniqueErrors(horizontal_deg=14.0),
    ShortfallCode.APEX_CUT_OFF: TechniqueErrors(shift_depth_mm=-8.0),
    ShortfallCode.CROWN_CUT_OFF: TechniqueErrors(shift_depth_mm=8.0),
    ShortfallCode.FORESHORTENED: TechniqueErrors(vertical_deg=20.0),
    ShortfallCode.ELONGATED: TechniqueErrors(vertical_deg=-18.0),
    ShortfallCode.WRONG_REGION: TechniqueErrors(shift_mesial_mm=12.0),
    ShortfallCode.CONE_CUT: TechniqueErrors(collimator_offset_mm=(13.0, 0.0)),
    ShortfallCode.BLURRED: TechniqueErrors(motion_mm=1.6, motion_direction_deg=30.0),
    ShortfallCode.TOO_LIGHT: TechniqueErrors(exposure=0.2),
    ShortfallCode.TOO_DARK: TechniqueErrors(exposure=4.0),
}
"""The cause of each fault; an artefact has none in tube or receptor and is only named in the review."""

_BY_BISECTING = {ShortfallCode.FORESHORTENED, ShortfallCode.ELONGATED}


@dataclass(frozen=True)
class Request:
    """One picture that the demo needs.

    Parameters
    ----------
    number : different for every picture, so that no two files are alike
    mouth : seed of the patient's own anatomy
    width : pixels across
    """

    number: int
    slot: Slot
    dentition: Dentition
    faults: tuple[ShortfallCode, ...]
    mouth: int
    width: int

    def name(self) -> str:
        """File name: the same for the same picture."""
        told = [
            self.number, self.mouth, self.width, self.slot.kind, str(self.slot.receptor), list(self.slot.shows),
            write_dentition(self.dentition), list(self.faults),
        ]  # fmt: skip
        return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:20] + ".jpg"


def request_for(
    number: int, slot: Slot, dentition: Dentition, shortfalls: Sequence[Shortfall], *, mouth: int, width: int
) -> Request:
    """What to ask for an invented image with its shortfalls."""
    return Request(number, slot, dentition, tuple(each.code for each in shortfalls), mouth, width)


def picture_of(request: Request) -> bytes:
    """The JPEG, from the folder or simulated now."""
    try:
        return (FOLDER / request.name()).read_bytes()
    except FileNotFoundError:
        return simulated(request)


def simulated(request: Request) -> bytes:
    """The JPEG, simulated."""
    errors = next((_ERRORS[code] for code in request.faults if code in _ERRORS), TechniqueErrors())
    bisecting = bool(_BY_BISECTING & set(request.faults)) and request.slot.kind == "periapical"
    made = expose(
        SlotPose.of(request.slot),
        _mouth(json.dumps(write_dentition(request.dentition)), request.mouth, request.dentition),
        seed=request.number,
        errors=errors,
        equipment=Equipment(technique="bisecting") if bisecting else None,
        width=request.width,
    )
    return file_bytes(labelled(Picture(pixels=made.pixels, bits=made.bits)), "JPEG", jpeg_quality=JPEG_QUALITY)


_mouths: dict[tuple[str, int], Mouth] = {}


def _mouth(chart: str, seed: int, dentition: Dentition) -> Mouth:
    if (chart, seed) not in _mouths:
        _mouths.clear()
        _mouths[(chart, seed)] = grown_mouth(dentition, seed)
    return _mouths[(chart, seed)]
