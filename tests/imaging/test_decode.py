"""Every kind of file is taken right or refused with the mend."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from app.imaging.decode import ImageLimits, read_radiograph
from app.imaging.display import screen_levels, screen_png
from app.imaging.errors import ImageRefused

RAMP8 = np.tile(np.arange(64, dtype=np.uint8), (48, 1)) * 4
RAMP16 = np.tile(np.arange(64, dtype=np.uint16), (48, 1)) * 60 + 300


def saved(image: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)  # type: ignore[arg-type]
    return out.getvalue()


def grey8() -> Image.Image:
    return Image.fromarray(RAMP8)


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "BMP"])
def test_eight_bit_grey_comes_back_to_the_level(kind: str) -> None:
    read = read_radiograph(saved(grey8(), kind), name="a")

    assert (read.format, read.bits, read.width, read.height) == (kind, 8, 64, 48)
    assert np.array_equal(read.grey, RAMP8)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_sixteen_bit_grey_comes_back_to_the_level(kind: str) -> None:
    read = read_radiograph(saved(Image.fromarray(RAMP16), kind), name="a")

    assert read.bits == 16
    assert np.array_equal(read.grey, RAMP16)


def test_big_endian_tiff_comes_back_to_the_level() -> None:
    big = Image.frombytes("I;16B", (64, 48), RAMP16.astype(">u2").tobytes())

    read = read_radiograph(saved(big, "TIFF"), name="a")

    assert np.array_equal(read.grey, RAMP16)


def test_grey_stored_as_colour_or_palette_is_taken_as_grey() -> None:
    for image in (grey8().convert("RGB"), grey8().convert("RGBA"), grey8().convert("P"), grey8().convert("LA")):
        read = read_radiograph(saved(image, "PNG"), name="a")

        assert np.array_equal(read.grey, RAMP8)


def test_a_grey_jpeg_saved_as_colour_is_taken_as_grey() -> None:
    read = read_radiograph(saved(grey8().convert("RGB"), "JPEG", quality=60), name="a.jpg")

    assert read.bits == 8
    assert np.abs(read.grey.astype(int) - RAMP8).max() < 40


def photograph() -> Image.Image:
    levels = np.zeros((64, 64, 3), np.uint8)
    levels[..., 0] = 200
    levels[..., 2] = np.arange(64)
    return Image.fromarray(levels)


def frames(kind: str) -> bytes:
    other = Image.fromarray(RAMP8[::-1].copy())
    return saved(grey8(), kind, save_all=True, append_images=[other])


def huge_header() -> bytes:
    """A PNG whose header claims 40,000 by 40,000 pixels."""
    import struct
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


REFUSED = {
    "empty": (b"", "the file is empty"),
    "text": (b"I am no image\n" * 5, "this is text, not an image"),
    "noise": (bytes(range(256)) * 9, "not an image that can be read"),
    "cut-jpeg": (saved(grey8().resize((400, 300)), "JPEG")[:-900], "damaged or cut short"),
    "cut-png": (saved(grey8(), "PNG")[:-40], "damaged or cut short"),
    "cut-tiff": (saved(grey8(), "TIFF")[:600], "damaged or cut short"),
    "headless-png": (saved(grey8(), "PNG")[:20], ""),
    "gif": (saved(grey8(), "GIF"), "not an image that can be read"),
    "huge": (huge_header(), "40,000 × 40,000 pixels"),
    "long": (saved(Image.new("L", (30_000, 32)), "PNG"), "30,000 × 32 pixels"),
    "one-pixel": (saved(Image.new("L", (1, 1)), "PNG"), "too small"),
    "cmyk": (saved(grey8().convert("CMYK"), "JPEG"), "printing colours"),
    "float": (saved(Image.fromarray(RAMP8.astype(np.float32)), "TIFF"), "fractions"),
    "pages": (frames("TIFF"), "several images"),
    "animated": (frames("PNG"), "several images"),
    "colour": (saved(photograph(), "PNG"), "colour picture"),
}


@pytest.mark.parametrize("case", sorted(REFUSED))
def test_what_cannot_be_taken_is_refused_by_name_with_the_mend(case: str) -> None:
    data, words = REFUSED[case]

    with pytest.raises(ImageRefused) as error:
        read_radiograph(data, name=f"{case}.png")

    assert str(error.value).startswith(f"{case}.png: ")
    assert words in str(error.value)
    assert error.value.mend


def test_a_file_beyond_the_limit_in_bytes_is_refused() -> None:
    with pytest.raises(ImageRefused, match="more than this practice accepts"):
        read_radiograph(saved(grey8(), "BMP"), name="a", limits=ImageLimits(max_bytes=1000))


def test_the_files_own_mark_of_turning_is_followed_and_told() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6

    read = read_radiograph(saved(grey8(), "JPEG", exif=exif), name="a")

    assert (read.width, read.height) == (48, 64)
    assert any("turned" in note for note in read.notes)


def test_sixteen_bits_are_stretched_to_the_whole_screen_range() -> None:
    levels = screen_levels(read_radiograph(saved(Image.fromarray(RAMP16), "PNG"), name="a"))

    assert (levels.min(), levels.max()) == (0, 255)
    assert np.all(np.diff(levels[0].astype(int)) >= 0)


def test_the_picture_for_the_page_is_small_enough_and_carries_no_metadata() -> None:
    exif = Image.Exif()
    exif[0x010E] = "a patient's name"
    data = saved(grey8().resize((640, 480)), "JPEG", exif=exif)

    picture = Image.open(io.BytesIO(screen_png(read_radiograph(data, name="a"), max_side=160)))

    assert picture.size == (160, 120)
    assert not picture.info
