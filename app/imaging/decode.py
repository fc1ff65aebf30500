"""Bytes of a file -> :class:`~app.imaging.radiograph.Radiograph`, or a refusal that says how to mend it.

The order matters: what the header says is judged before a single pixel is decoded, so that a few kilobytes that
unpack to gigabytes cost nothing.

- The kind of file is told by its content, never by its name.
- The orientation tag (EXIF 274, also a tag of TIFF) is obeyed, because every viewer and browser obeys it: the
  dentist and the program must speak of the same left. A note says so.
- Light is high: where TIFF stores white as zero, the levels are turned round.
- Colour that is really grey becomes its grey without loss; of real colour the luma (ITU-R BT.601) is kept and the
  spread told. Transparent parts count as black.
"""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
import zlib

import numpy as np
from PIL import Image, ImageFile, UnidentifiedImageError

from app.imaging.colour import is_colour, spread_of_colour
from app.imaging.cut_short import ends_early
from app.imaging.errors import ImageRefused
from app.imaging.radiograph import DEFAULT_LIMITS, Grey, ImageLimits, Radiograph

# The size in the header is judged below against our own, stricter limits, before any pixel is decoded.
Image.MAX_IMAGE_PIXELS = None
# What Pillow warns of (odd tags, broken metadata) is no concern of the grey levels.
warnings.filterwarnings("ignore", module=r"PIL\.")

__all__ = ["DEFAULT_LIMITS", "ImageLimits", "Radiograph", "read_radiograph"]

LONGEST = 20
"""Times as long as wide an image may be. Receptors are about 1.3 to 2 times (common practice, no source); on a
strip nothing is left of the narrow side where it is measured smaller."""
READABLE = ("JPEG", "PNG", "TIFF", "BMP")
EXPORT_AGAIN = "Export it again as PNG, or as 8- or 16-bit grey TIFF, JPEG or BMP"
SEND_AGAIN = "Export or copy the file again"

_SIGNATURES: tuple[tuple[int, bytes, str], ...] = (
    (0, b"GIF8", "a GIF"),
    (8, b"WEBP", "a WebP file"),
    (0, b"%PDF", "a PDF document"),
    (128, b"DICM", "a DICOM file"),
    (4, b"ftyp", "a HEIC, AVIF or video file"),
    (0, b"\x00\x00\x00\x0cjP  ", "a JPEG 2000 file"),
    (0, b"\xff\x4f\xff\x51", "a JPEG 2000 stream"),
    (0, b"PK\x03\x04", "a ZIP archive or office document"),
    (0, b"8BPS", "a layered drawing file"),
    (0, b"<", "a text, SVG or HTML file"),
)
"""Kinds of file that people load by mistake: offset, bytes there, and the name in the message."""

_DAMAGE = (OSError, SyntaxError, ValueError, EOFError, struct.error, zlib.error, IndexError, KeyError, TypeError)
"""What Pillow raises for broken files, by its several readers."""

_TIFF_BITS, _TIFF_PHOTOMETRIC, _ORIENTATION, _WHITE_IS_ZERO = 258, 262, 274, 0


def read_radiograph(
    data: bytes, *, name: str, limits: ImageLimits | None = None, allow_colour: bool = False
) -> Radiograph:
    """Decode one image file.

    Parameters
    ----------
    data : the file's bytes
    name : the file's name, for messages
    limits : what is refused for its size; None for the usual limits
    allow_colour : take a picture in real colour by its brightness, so that it can be measured and told to be no
        radiograph, instead of refusing it. A radiograph of one tint (a blue film base) is always taken.

    Raises
    ------
    ImageRefused
        For an empty or too large file; a kind of file that is not read; sides or a pixel count outside the
        limits; several pages or frames; CMYK, Lab, floating-point or 32-bit pixels; real colour; a damaged or
        cut-off file.
    """
    limits = limits or DEFAULT_LIMITS
    if not data:
        raise ImageRefused(name, "the file is empty (0 bytes)", SEND_AGAIN)
    if len(data) > limits.max_bytes:
        raise ImageRefused(
            name,
            f"{len(data):,} bytes is more than this practice accepts ({limits.max_bytes:,})",
            "Load one radiograph a file, and export it compressed",
        )
    notes: list[str] = []
    with _opened(data, name) as image:
        _check_header(image, name, limits)
        form = "JPEG" if image.format in ("JPEG", "MPO") else str(image.format)
        # TIFF is turned by Pillow itself while it loads.
        turned = _orientation(image)
        try:
            image.load()
            grey, spread, variety = _grey_levels(image, name, notes)
        except ImageRefused:
            raise
        except MemoryError as error:
            raise ImageRefused(name, "its pixels do not fit in memory", EXPORT_AGAIN) from error
        except _DAMAGE as error:
            raise ImageRefused(
                name, f"the {form} is damaged or cut short: its pixels cannot be read ({_told(error)})", SEND_AGAIN
            ) from error
    if ends_early(data, form, grey):
        raise ImageRefused(
            name, f"the {form} is cut short: rows at its end are missing, though it is closed", SEND_AGAIN
        )
    if is_colour(spread, variety):
        if not allow_colour:
            raise ImageRefused(name, "this is a colour picture, not a radiograph", "Load the radiograph itself")
        notes.append("The picture is in colour; only its brightness is used.")
    elif spread:
        notes.append("Stored as colour; the little colour in it was dropped.")
    if turned != 1:
        notes.append("The file asks to be shown turned; it is.")
        if form != "TIFF":
            grey = _turn(grey, turned)
    height, width = grey.shape
    return Radiograph(
        grey=grey if grey.flags.c_contiguous else grey.copy(),
        bits=8 * grey.dtype.itemsize,
        format=form,
        width=width,
        height=height,
        sha256=hashlib.sha256(data).hexdigest(),
        colour_spread=spread,
        hue_variety=variety,
        notes=tuple(notes),
    )


def _opened(data: bytes, name: str) -> Image.Image:
    try:
        # A library of the PDF report switches this on for the whole process: a cut file would be taken as black.
        ImageFile.LOAD_TRUNCATED_IMAGES = False
        return Image.open(io.BytesIO(data), formats=READABLE)
    except UnidentifiedImageError as error:
        raise ImageRefused(name, _kind_of(data), EXPORT_AGAIN) from error
    except (*_DAMAGE, MemoryError) as error:
        raise ImageRefused(name, f"the file's header is damaged ({_told(error)})", SEND_AGAIN) from error


def _kind_of(data: bytes) -> str:
    for offset, mark, kind in _SIGNATURES:
        if data[offset : offset + len(mark)] == mark:
            return f"this is {kind}, which is not read"
    if (
        data[:2] == b"\xff\xd8"
        or data[:4] == b"\x89PNG"
        or (data[:2] == b"BM" and b"\0" in data[:14])
        or data[:4] in (b"II*\0", b"MM\0*")
    ):
        return "the file's header is damaged or cut short"
    head = data[:512]
    if all(byte in b"\t\n\r\f\x1b" or 32 <= byte < 127 or byte >= 128 for byte in head):
        return "this is text, not an image"
    return "this is not an image that can be read"


def _check_header(image: Image.Image, name: str, limits: ImageLimits) -> None:
    width, height = image.size
    size = f"{width:,} × {height:,} pixels"
    if min(width, height) < limits.min_side:
        raise ImageRefused(
            name,
            f"{size} is too small to be a radiograph; each side has at least {limits.min_side}",
            "Load the radiograph itself, not an icon or preview of it",
        )
    if max(width, height) > LONGEST * min(width, height):
        raise ImageRefused(
            name,
            f"{size} is a strip, {max(image.size) / min(image.size):.0f} times as long as wide; no receptor is",
            EXPORT_AGAIN,
        )
    if max(width, height) > limits.max_side or width * height > limits.max_pixels:
        raise ImageRefused(
            name,
            f"{size} is more than this practice accepts ({limits.max_side:,} along a side, "
            f"{limits.max_pixels / 1e6:,.0f} million in all)",
            "Load one radiograph a file, at the size at which the receptor delivered it",
        )
    _check_model(image, name)
    try:
        image.seek(1)
    except EOFError:
        image.seek(0)
    except _DAMAGE as error:
        raise ImageRefused(name, f"the file's header is damaged ({_told(error)})", SEND_AGAIN) from error
    else:
        what = "pages" if image.format == "TIFF" else "frames"
        raise ImageRefused(
            name, f"the file holds several images ({what})", "Export each radiograph to a file of its own"
        )


def _check_model(image: Image.Image, name: str) -> None:
    if image.mode in ("CMYK", "LAB", "HSV"):
        raise ImageRefused(name, f"the image is stored in printing colours ({image.mode})", EXPORT_AGAIN)
    if image.mode == "F":
        raise ImageRefused(name, "its grey levels are fractions (floating point)", EXPORT_AGAIN)


def _orientation(image: Image.Image) -> int:
    """The orientation tag, 1 to 8; 1 (as stored) where there is none or it cannot be read."""
    try:
        value = image.getexif().get(_ORIENTATION, 1)
    except Exception:
        # The tag is a courtesy: a broken block of it must not lose the radiograph.
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _turn(grey: Grey, orientation: int) -> Grey:
    """The array as orientation tag 2–8 asks (EXIF 2.32, table 6: where row 0 and column 0 of the file stand)."""
    if orientation >= 5:
        grey = grey.T
    if orientation in (3, 4, 7, 8):
        grey = grey[::-1]
    if orientation in (2, 3, 6, 7):
        grey = grey[:, ::-1]
    return grey


def _grey_levels(image: Image.Image, name: str, notes: list[str]) -> tuple[Grey, float, float]:
    """Grey levels, spread of colour and variety of hue of a loaded image."""
    mode = image.mode
    if mode.startswith("I"):
        return _deep_levels(image, name, notes), 0.0, 0.0
    if mode == "1":
        notes.append("The image has only black and white.")
        image = image.convert("L")
    elif mode in ("P", "PA") or "transparency" in image.info:
        image = image.convert("RGBA" if "transparency" in image.info or mode == "PA" else "RGB")
    if image.mode in ("LA", "La", "RGBA", "RGBa", "RGBX"):
        image = _on_black(image, notes)
    if image.mode == "L":
        return np.asarray(image, dtype=np.uint8), 0.0, 0.0
    if image.mode not in ("RGB", "YCbCr"):
        raise ImageRefused(name, f"pixels of the kind {image.mode!r} are not read", EXPORT_AGAIN)
    image = image.convert("RGB")
    spread, variety = spread_of_colour(np.asarray(image))
    return np.asarray(image.convert("L"), dtype=np.uint8), spread, variety


def _on_black(image: Image.Image, notes: list[str]) -> Image.Image:
    plain = "L" if image.mode in ("LA", "La") else "RGB"
    if image.mode == "RGBX":
        return image.convert("RGB")
    image = image.convert("LA" if plain == "L" else "RGBA")
    alpha = image.getchannel("A")
    if alpha.getextrema() == (255, 255):
        return image.convert(plain)
    notes.append("Transparent parts count as black.")
    ground = Image.new(plain, image.size, 0)
    ground.paste(image.convert(plain), mask=alpha)
    return ground


def _deep_levels(image: Image.Image, name: str, notes: list[str]) -> Grey:
    """Levels of more than 8 bits, as uint16; 32-bit integers only where they fit in 16."""
    levels = np.asarray(image)
    if levels.dtype.kind not in "iu":
        raise ImageRefused(name, f"pixels of the kind {image.mode!r} are not read", EXPORT_AGAIN)
    if levels.dtype.itemsize > 2 or levels.dtype.kind == "i":
        low, high = int(levels.min()), int(levels.max())
        if low < 0 or high > 65535:
            raise ImageRefused(
                name, f"the grey levels reach from {low} to {high}; 16 bits hold 0 to 65535", EXPORT_AGAIN
            )
    # Byte order of the file becomes that of the machine.
    grey: Grey = levels.astype(np.uint16)
    if image.format == "TIFF":
        tags = getattr(image, "tag_v2", {})
        if tags.get(_TIFF_PHOTOMETRIC, 1) == _WHITE_IS_ZERO:
            bits = tags.get(_TIFF_BITS, (16,))
            top = (1 << int(bits[0] if isinstance(bits, tuple) else bits)) - 1
            grey = np.uint16(top) - np.minimum(grey, np.uint16(top))
            notes.append("White is stored as zero; the levels were turned round.")
    return grey


def _told(error: BaseException) -> str:
    """What the reader said, short and on one line."""
    text = " ".join(str(error).split()) or type(error).__name__
    return text if len(text) <= 120 else f"{text[:117]}…"
