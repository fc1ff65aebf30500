"""The untidiness of real files: each does what it says and leaves the rest of the image alone."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from app.imaging.simulator import expose
from app.imaging.simulator.picture import Picture, file_bytes, labelled
from app.imaging.simulator.untidy import UNTIDY, untidied
from tests.simulator.scenes import average_mouth, pose

DRAWN_ON = (
    "rounded_corners",
    "corner_text",
    "black_block",
    "bright_metal",
    "dark_open",
    "holder",
    "clamp",
    "film_dot",
)


@cache
def picture(bits: int = 8) -> Picture:
    made = expose(pose("LR-molar"), average_mouth(), width=300, bits=bits)
    return Picture(pixels=made.pixels, bits=made.bits)


def after(name: str, bits: int = 8, seed: int = 1) -> Picture:
    return untidied(picture(bits), [name], np.random.default_rng(seed))


@pytest.mark.parametrize("name", UNTIDY)
@pytest.mark.parametrize("bits", [8, 12])
def test_every_untidiness_gives_a_picture_that_can_be_written(name, bits):
    found = after(name, bits)

    assert found.pixels.ndim == 2
    assert found.pixels.max() <= found.white
    assert file_bytes(labelled(found), "PNG").startswith(b"\x89PNG")


@pytest.mark.parametrize("name", UNTIDY)
def test_the_same_seed_gives_the_same_picture(name):
    np.testing.assert_array_equal(after(name).pixels, after(name).pixels)


@pytest.mark.parametrize("name", UNTIDY)
def test_what_is_handed_in_stays_as_it_was(name):
    before = picture().pixels.copy()
    after(name)

    np.testing.assert_array_equal(picture().pixels, before)


@pytest.mark.parametrize("name", DRAWN_ON)
@pytest.mark.parametrize("seed", range(4))
def test_what_is_drawn_on_the_image_covers_less_than_a_quarter(name, seed):
    found = after(name, seed=seed)
    changed = float((found.pixels != picture().pixels).mean())

    assert found.pixels.shape == picture().pixels.shape
    assert 0 < changed < 0.25


@pytest.mark.parametrize(("name", "grey"), [("white_frame", 255), ("black_frame", 0)])
def test_a_frame_stands_outside_the_image(name, grey):
    found = after(name).pixels
    rows, columns = picture().pixels.shape

    assert found.shape[0] > rows
    assert found.shape[1] > columns
    assert (found[0] == grey).all()
    assert (found[:, -1] == grey).all()


def test_rounded_corners_are_white_and_the_middle_is_untouched():
    found = after("rounded_corners").pixels

    assert {int(found[y, x]) for y in (0, -1) for x in (0, -1)} == {255}
    np.testing.assert_array_equal(found[40:-40, 60:-60], picture().pixels[40:-40, 60:-60])


def test_a_stretched_copy_is_cut_off_at_both_ends():
    found = after("stretched").pixels

    assert 0.005 < (found == 0).mean() < 0.1
    assert 0.005 < (found == 255).mean() < 0.1


def test_raw_data_fill_a_narrow_band_of_16_bits():
    found = after("narrow_band", bits=12)

    assert found.bits == 16
    assert found.pixels.max() < 4095
    assert found.pixels.min() > 100


def test_a_squared_image_is_square():
    assert len(set(after("squared").pixels.shape)) == 1


@pytest.mark.parametrize(("name", "kind"), [("rgb_storage", "rgb"), ("palette_storage", "palette")])
def test_colour_storage_keeps_the_greys(name, kind):
    import io

    from PIL import Image

    found = after(name)
    read = Image.open(io.BytesIO(file_bytes(found, "PNG")))

    assert found.storage == kind
    np.testing.assert_array_equal(np.asarray(read.convert("L")), picture().pixels)


def test_an_unknown_name_is_refused():
    with pytest.raises(KeyError):
        untidied(picture(), ["smudges"], np.random.default_rng(0))
