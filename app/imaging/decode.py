"""From the bytes of a file to the grey levels of a radiograph.

Taken: JPEG, PNG, TIFF and BMP, grey in 8 or 16 bits, or colour that is really grey. The header is read and judged
before any pixel is decoded, so that a small file cannot ask for a huge image.
"""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from app.imaging.errors import ImageRefused

FORMATS = ("JPEG", "PNG", "TIFF", "BMP")

# The size in the header is judged below, against the practice's own limit, before any pixel is decoded.
Image.MAX_IMAGE_PIXELS = None

GREY_SPREAD = 24
"""Largest difference of red, green and blue, in grey levels of 255, at which a picture still counts as grey.

JPEG keeps colour apart from brightness and rounds it, so a grey picture saved as colour comes back a few levels
apart.
"""

COLOUR_SHARE = 0.02
"""Share of pixels that may be more coloured than that: burned-in marks of a viewer are small."""


@dataclass(frozen=True, kw_only=True)
class ImageLimits:
    """What is taken at most.

    Parameters
    ----------
    max_bytes : size of the file
    max_pixels : width times height
    max_side, min_side : pixels along one side
    """

    max_bytes: int = 60_000_000
    max_pixels: int = 100_000_000
    max_side: int = 20_000
    min_side: int = 32


@dataclass(frozen=True, kw_only=True)
class Radiograph:
    """One decoded image.

    Parameters
    ----------
    grey : 2-D array (rows, columns), uint8 or uint16, origin at the top left; higher is lighter on the screen
    bits : 8 or 16, of the array
    format : JPEG, PNG, TIFF or BMP
    sha256 : of the file's bytes, hexadecimal
    notes : what a person should know: turned by its own mark, colour dropped
    """

    grey: npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
    bits: int
    format: str
    sha256: str
    notes: tuple[str, ...] = ()

    @property
    def width(self) -> int:
        """Pixels across."""
        return int(self.grey.shape[1])

    @property
    def height(self) -> int:
        """Pixels down."""
        return int(self.grey.shape[0])


def read_radiograph(data: bytes, *, name: str, limits: ImageLimits | None = None) -> Radiograph:
    """Decode a file in full.

    Parameters
    ----------
    data, name : the file's bytes, and its name for the messages

    Raises
    ------
    ImageRefused
        Empty, too large in bytes or pixels, too small, cut short, several pages or frames, of another kind, or in
        real colour: says which, and what to do.
    """
    bounds = limits or ImageLimits()
    if not data:
        raise ImageRefused(name, "the file is empty", "Export it again from the receptor's software")
    if len(data) > bounds.max_bytes:
        raise ImageRefused(
            name,
            f"{len(data):,} bytes is more than this practice accepts ({bounds.max_bytes:,})",
            "Export it smaller, or raise max_upload_bytes",
        )
    with warnings.catch_warnings():
        # What Pillow warns of (odd tags, broken metadata) is no concern of the grey levels.
        warnings.simplefilter("ignore")
        with _opened(data, name) as image:
            _judge_header(image, name, bounds)
            notes: list[str] = []
            pixels = _decoded(image, name, notes)
            grey = _grey(pixels, name, notes)
            found = str(image.format)
    return Radiograph(
        grey=grey,
        bits=16 if grey.dtype == np.uint16 else 8,
        format=found,
        sha256=hashlib.sha256(data).hexdigest(),
        notes=tuple(notes),
    )


def _opened(data: bytes, name: str) -> Image.Image:
    try:
        return Image.open(io.BytesIO(data), formats=FORMATS)
    except UnidentifiedImageError as error:
        what = "this is text, not an image" if _looks_like_text(data) else "this is not an image that can be read"
        raise ImageRefused(name, what, "Export it as JPEG, PNG, TIFF or BMP") from error
    except _BROKEN as error:
        raise ImageRefused(name, f"its header cannot be read ({error})", "Export it again") from error


_BROKEN = (
    OSError,
    ValueError,
    SyntaxError,
    struct.error,
    EOFError,
    IndexError,
    KeyError,
    TypeError,
    OverflowError,
)
"""What Pillow raises for files that are broken in one way or another."""


def _looks_like_text(data: bytes) -> bool:
    try:
        return data[:512].decode("utf-8").isprintable() or b"\n" in data[:512]
    except UnicodeDecodeError:
        return False


def _judge_header(image: Image.Image, name: str, limits: ImageLimits) -> None:
    width, height = image.size
    size = f"{width:,} × {height:,} pixels"
    if max(width, height) > limits.max_side or width * height > limits.max_pixels:
        raise ImageRefused(
            name,
            f"{size} is more than this practice accepts ({limits.max_pixels / 1e6:,.0f} megapixels, "
            f"{limits.max_side:,} along a side)",
            "Export it smaller, or raise max_pixels",
        )
    if min(width, height) < limits.min_side:
        raise ImageRefused(name, f"{size} is too small to be a radiograph", "Export the whole image")
    if getattr(image, "n_frames", 1) > 1:
        raise ImageRefused(name, "the file holds several images", "Export each radiograph as a file of its own")
    if image.mode in ("CMYK", "YCbCr", "LAB", "HSV"):
        raise ImageRefused(name, "the image is stored in printing colours", "Export it as grey")
    if image.mode == "F":
        raise ImageRefused(name, "its grey levels are fractions", "Export it with 8 or 16 bits a pixel")


def _decoded(image: Image.Image, name: str, notes: list[str]) -> Image.Image:
    if ImageFile.LOAD_TRUNCATED_IMAGES:
        raise RuntimeError("truncated images must not be taken: leave LOAD_TRUNCATED_IMAGES off")
    try:
        image.load()
        turned = ImageOps.exif_transpose(image)
    except _BROKEN as error:
        raise ImageRefused(
            name, "the file is damaged or cut short", "Export or copy it again from the receptor's software"
        ) from error
    if turned.size != image.size:
        notes.append("The file asks to be shown turned by a quarter; it is.")
    return turned


def _grey(image: Image.Image, name: str, notes: list[str]) -> Any:
    mode = image.mode
    if mode in ("L", "1", "LA", "La"):
        return np.asarray(image.convert("L"), dtype=np.uint8)
    if mode.startswith("I;16"):
        return np.asarray(image).astype(np.uint16)
    if mode == "I":
        levels = np.asarray(image)
        if levels.min() < 0 or levels.max() > 65535:
            raise ImageRefused(
                name, "its grey levels need more than 16 bits", "Export it with 8 or 16 bits a pixel"
            )
        return levels.astype(np.uint16)
    colours = np.asarray(image.convert("RGB")).astype(np.int16)
    spread = colours.max(axis=2) - colours.min(axis=2)
    if float(np.mean(spread > GREY_SPREAD)) > COLOUR_SHARE:
        raise ImageRefused(name, "this is a colour picture, not a radiograph", "Load the radiograph itself")
    if spread.any():
        notes.append("Stored as colour; the little colour in it was dropped.")
    return np.asarray(image.convert("L"), dtype=np.uint8)
