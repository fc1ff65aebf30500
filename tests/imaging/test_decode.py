"""Every kind of file is taken right or refused with the mend."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DataObject, data
from PIL import Image, ImageOps

from app.imaging.decode import ImageLimits, Radiograph, read_radiograph
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
    "gif": (saved(grey8(), "GIF"), "this is a GIF, which is not read"),
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


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
@pytest.mark.parametrize("mark", range(2, 9))
def test_the_files_own_mark_of_turning_is_followed_as_a_viewer_follows_it_and_told(mark: int, kind: str) -> None:
    corner = np.zeros((48, 64), np.uint8)
    corner[:16, :16] = 250
    exif = Image.Exif()
    exif[0x0112] = mark
    data = saved(Image.fromarray(corner), kind, exif=exif)
    shown = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))

    read = read_radiograph(data, name="a")

    assert np.array_equal(read.grey, shown)
    assert (read.height, read.width) == shown.shape
    assert any("turned" in note for note in read.notes)


@pytest.mark.parametrize("top", [255, 65535])
def test_tiff_with_white_as_zero_comes_back_with_light_as_high(top: int) -> None:
    """TIFF 6.0, PhotometricInterpretation 0: zero is imaged as white."""
    ramp = RAMP8 if top == 255 else RAMP16
    plain = saved(Image.fromarray(ramp), "TIFF")
    at = plain.index(struct.pack("<HHL", 262, 3, 1)) + 8
    white_is_zero = plain[:at] + struct.pack("<H", 0) + plain[at + 2 :]

    read = read_radiograph(white_is_zero, name="a")

    assert np.array_equal(read.grey, top - ramp)


def test_a_tinted_film_is_taken_and_its_tint_told() -> None:
    """A blue film base is one tint for each grey; it is a radiograph all the same."""
    blue = np.stack([RAMP8 * 0.7, RAMP8 * 0.8, RAMP8 * 0.9 + 20], axis=2).astype(np.uint8)

    read = read_radiograph(saved(Image.fromarray(blue), "JPEG", quality=85), name="a")

    assert read.colour_spread > 30
    assert any("colour" in note for note in read.notes)


def test_real_colour_can_be_asked_for_so_that_it_can_be_measured() -> None:
    read = read_radiograph(saved(photograph(), "PNG"), name="a", allow_colour=True)

    assert read.colour_spread > 100
    assert read.grey.shape == (64, 64)


def test_transparent_parts_count_as_black() -> None:
    shaded = grey8().convert("RGBA")
    shaded.paste((200, 200, 200, 0), (0, 0, 20, 48))

    read = read_radiograph(saved(shaded, "PNG"), name="a")

    assert not read.grey[:, :20].any()
    assert np.array_equal(read.grey[:, 20:], RAMP8[:, 20:])


def test_wider_integers_that_fit_in_sixteen_bits_are_taken() -> None:
    read = read_radiograph(saved(Image.fromarray(RAMP16.astype(np.int32)), "TIFF"), name="a")

    assert read.grey.dtype == np.uint16
    assert np.array_equal(read.grey, RAMP16)


def test_wider_integers_that_do_not_fit_are_refused_with_their_range() -> None:
    wide = RAMP16.astype(np.int32)
    wide[0, 1] = 70_000

    with pytest.raises(ImageRefused, match="from 300 to 70000"):
        read_radiograph(saved(Image.fromarray(wide), "TIFF"), name="a")


@pytest.mark.filterwarnings("ignore::UserWarning:PIL")
@given(data(), st.sampled_from(["PNG", "JPEG", "TIFF", "BMP"]))
@settings(max_examples=150, deadline=None)
def test_a_file_damaged_anywhere_is_read_or_refused_and_nothing_else(draw: DataObject, kind: str) -> None:
    whole = bytearray(saved(grey8(), kind))
    for _ in range(draw.draw(st.integers(1, 6))):
        whole[draw.draw(st.integers(0, min(len(whole), 700) - 1))] = draw.draw(st.integers(0, 255))
    cut = bytes(whole[: draw.draw(st.integers(1, len(whole)))])

    try:
        outcome: object = read_radiograph(cut, name="a", allow_colour=True)
    except ImageRefused as refused:
        outcome = refused

    assert isinstance(outcome, Radiograph | ImageRefused)


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
