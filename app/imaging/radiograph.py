"""What the rest of the room works on: grey levels and the few facts of the file they came from."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8] | NDArray[np.uint16]
"""Grey levels: shape (rows, columns), row 0 at the top, column 0 at the left, higher is lighter."""


@dataclass(frozen=True, kw_only=True)
class ImageLimits:
    """How large an image file may be.

    Parameters
    ----------
    max_bytes : of the file. The largest intraoral files, 16-bit and uncompressed, take about 10 MB.
    max_side : pixels. The finest receptors have about 2,500 along their long side; scanned mounts of film
        reach 6,000.
    max_pixels : of the whole picture; what is decoded then stays under 120 MB even in colour
    min_side : pixels. Below it nothing can be told from its surroundings.
    """

    max_bytes: int = 60_000_000
    max_side: int = 12_000
    max_pixels: int = 40_000_000
    min_side: int = 32


DEFAULT_LIMITS = ImageLimits()


@dataclass(frozen=True, kw_only=True, eq=False)
class Radiograph:
    """A decoded image file.

    Parameters
    ----------
    grey : shape (rows, columns), uint8 or uint16, higher is lighter; turned as the file's orientation tag asks
    bits : 8 or 16, of the container, not of what the receptor delivered (12 bits often stand in 16)
    format : ``JPEG``, ``PNG``, ``TIFF`` or ``BMP``
    width, height : pixels, of ``grey``
    sha256 : of the file's bytes, 64 hexadecimal digits
    colour_spread : grey levels of 255; 95 % of the pixels have red, green and blue within this of one another.
        0 where the picture is really grey, whatever the file's colour model.
    hue_variety : grey levels of 255; what remains of the spread after one tint for each grey (a blue film base, a
        toned print) is taken off. Near 0 for a tinted radiograph, large for a photograph.
    notes : sentences on what was done to the file on the way in
    """

    grey: Grey
    bits: int
    format: str
    width: int
    height: int
    sha256: str
    colour_spread: float = 0.0
    hue_variety: float = 0.0
    notes: tuple[str, ...] = field(default=())

    @property
    def top(self) -> int:
        """The lightest grey level that the container holds: 255 or 65535."""
        return (1 << self.bits) - 1
