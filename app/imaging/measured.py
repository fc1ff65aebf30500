"""What was measured of one image, on its way to the findings."""

from __future__ import annotations

from dataclasses import dataclass

from app.imaging.clipping import Clipped
from app.imaging.collimation import Unexposed
from app.imaging.density import Density
from app.imaging.framing import Frame
from app.imaging.lines import Line
from app.imaging.sharpness import Sharpness


@dataclass(frozen=True, kw_only=True)
class Measured:
    """All that the findings of one image are told from."""

    density: Density
    frame: Frame
    noise: float
    sharpness: Sharpness
    unexposed: list[Unexposed]
    absolute: bool
    exchanged: float
    lines: list[Line]
    clipped: list[Clipped]
    doubled: float
