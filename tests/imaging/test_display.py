"""The picture for the screen: steps in their order, hand-worked levels, nothing of the file's own text."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from app.imaging.display import render_png, usual_window, window_table
from app.imaging.radiograph import Radiograph


def radiograph(grey: np.ndarray) -> Radiograph:
    return Radiograph(
        grey=grey, bits=8 * grey.dtype.itemsize, format="PNG", width=grey.shape[1], height=grey.shape[0], sha256=""
    )


def shown(grey: np.ndarray, **view) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(render_png(radiograph(grey), max_side=None, **view))))


SMALL = np.array([[0, 50, 100], [150, 200, 250]], np.uint8)


def test_an_8_bit_image_is_shown_as_it_is():
    assert np.array_equal(shown(SMALL), SMALL)


def test_a_window_maps_low_to_black_and_high_to_white():
    """(level - 50) / (150 - 50) of 255: 100 stands in the middle, 127.5, rounded to even 128."""
    assert shown(SMALL, window=(50, 150)).tolist() == [[0, 0, 128], [255, 255, 255]]


def test_inverting_comes_after_the_window():
    assert shown(SMALL, window=(50, 150), inverted=True).tolist() == [[255, 255, 128], [0, 0, 0]]


@pytest.mark.parametrize(
    ("turns", "wanted"),
    [
        (1, [[150, 0], [200, 50], [250, 100]]),
        (2, [[250, 200, 150], [100, 50, 0]]),
        (3, [[100, 250], [50, 200], [0, 150]]),
        (5, [[150, 0], [200, 50], [250, 100]]),
        (-1, [[100, 250], [50, 200], [0, 150]]),
    ],
)
def test_quarter_turns_go_clockwise(turns, wanted):
    assert shown(SMALL, quarter_turns=turns).tolist() == wanted


def test_mirroring_comes_before_turning():
    assert shown(SMALL, mirrored=True, quarter_turns=1).tolist() == [[250, 100], [200, 50], [150, 0]]


def test_a_deep_image_is_shown_between_its_own_ends():
    deep = np.linspace(1000, 3000, 4000).astype(np.uint16).reshape(50, 80)
    low, high = usual_window(deep)
    levels = shown(deep)

    assert (low, high) == pytest.approx((1002, 2998), abs=2)
    assert (levels.min(), levels.max()) == (0, 255)


def test_a_flat_deep_image_is_shown_without_an_error():
    assert set(shown(np.full((40, 40), 700, np.uint16)).ravel()) == {0}


def test_a_16_bit_table_has_every_level():
    table = window_table(16, (0, 65535), False)

    assert table.shape == (65536,)
    assert (table[0], table[32768], table[65535]) == (0, 128, 255)


def test_a_window_without_width_is_refused():
    with pytest.raises(ValueError, match="from a lower to a higher grey level, not from 90 to 90"):
        shown(SMALL, window=(90, 90))
