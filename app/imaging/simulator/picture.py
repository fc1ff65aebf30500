"""A simulated radiograph as a file: labelled on the image and in the file's own text."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import PurePath
from typing import Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFont, PngImagePlugin

from app.imaging.simulator.detector import Stored

LABEL = "SIMULATED"
STATEMENT = "SIMULATED radiograph: computed from a model, of no patient."
"""What the file itself says, where its format has room for text."""

FileFormat = Literal["PNG", "JPEG", "TIFF"]
FORMAT_OF_ENDING: dict[str, FileFormat] = {
    ".png": "PNG",
    ".jpg": "JPEG",
    ".jpeg": "JPEG",
    ".tif": "TIFF",
    ".tiff": "TIFF",
}
Storage = Literal["grey", "rgb", "palette"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """Grey levels on their way into a file.

    Parameters
    ----------
    pixels : shape (rows, columns), uint8 or uint16, higher is lighter
    bits : depth of the grey levels: 8, 12 or 16; 12 stand in a 16-bit file
    storage : how the file keeps them: as greys, or (8 bits only) as red, green and blue or a palette
    """

    pixels: Stored
    bits: int
    storage: Storage = "grey"

    @property
    def white(self) -> int:
        """The lightest grey level."""
        return int(2**self.bits - 1)


def file_format(name: str) -> FileFormat:
    """The format that a file's ending asks for.

    Raises
    ------
    ValueError
        For any other ending.
    """
    ending = PurePath(name).suffix.lower()
    if ending not in FORMAT_OF_ENDING:
        raise ValueError(f'no format for the ending "{ending}". Use {", ".join(FORMAT_OF_ENDING)}')
    return FORMAT_OF_ENDING[ending]


def written_text(picture: Picture, text: str, *, right: bool = False, top: bool = False) -> Picture:
    """The picture with a line of text burned into a corner, white on black."""
    rows, columns = picture.pixels.shape
    size = max(8, round(min(rows, columns) / 26))
    font = ImageFont.load_default(size)
    left, above, wide, tall = (round(each) for each in font.getbbox(text))
    pad = max(2, size // 5)
    mask = Image.new("L", (wide - left + 2 * pad, tall - above + 2 * pad), 0)
    ImageDraw.Draw(mask).text((pad - left, pad - above), text, fill=255, font=font)
    burned = np.asarray(mask).astype(np.float64) / 255.0 * picture.white
    height, width = min(rows, burned.shape[0]), min(columns, burned.shape[1])
    pixels = picture.pixels.copy()
    row = 0 if top else rows - height
    column = columns - width if right else 0
    pixels[row : row + height, column : column + width] = np.rint(burned[:height, :width]).astype(pixels.dtype)
    return Picture(pixels=pixels, bits=picture.bits, storage=picture.storage)


def labelled(picture: Picture) -> Picture:
    """The picture with the word that says it is simulated, in its lower left corner."""
    return written_text(picture, LABEL)


def file_bytes(picture: Picture, fmt: FileFormat, *, jpeg_quality: int = 92) -> bytes:
    """The file, with `STATEMENT` in its text.

    Raises
    ------
    ValueError
        For a JPEG, colours or a palette of more than 8 bits.
    """
    if picture.bits != 8 and (fmt == "JPEG" or picture.storage != "grey"):
        what = "a JPEG file" if fmt == "JPEG" else f"{picture.storage} storage"
        raise ValueError(f"{what} holds 8 bits, not {picture.bits}. Use 8 bits, or a PNG or TIFF file of greys")
    image = Image.fromarray(picture.pixels)
    if picture.storage == "rgb":
        image = image.convert("RGB")
    elif picture.storage == "palette" and fmt != "JPEG":
        image = image.convert("P")
    sink = io.BytesIO()
    if fmt == "PNG":
        text = PngImagePlugin.PngInfo()
        text.add_text("Description", STATEMENT)
        image.save(sink, "PNG", pnginfo=text, compress_level=4)
    elif fmt == "TIFF":
        image.save(sink, "TIFF", tiffinfo={270: STATEMENT}, compression="tiff_lzw" if picture.bits == 8 else None)
    else:
        image.save(sink, "JPEG", quality=jpeg_quality, comment=STATEMENT.encode("ascii"))
    return sink.getvalue()
