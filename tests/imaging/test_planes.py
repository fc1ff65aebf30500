"""The sizes at which an image is measured, by small arrays worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.planes import FINE_SIDE, fields_of, planes_of
from tests.imaging.pictures import as_radiograph


def test_eight_bits_are_taken_as_they_are():
    levels = np.tile(np.arange(100, dtype=np.uint8), (80, 1))
    planes = planes_of(as_radiograph(levels))

    assert np.array_equal(planes.native, levels)
    assert planes.fine[0, 51] == pytest.approx(51 / 255)
    assert (planes.absolute, planes.factor) == (True, 1.0)


def test_sixteen_bits_that_fill_their_container_keep_their_meaning():
    """65535 is white, 32768 just above the middle: 32768 / 65535 x 255 = 127.502."""
    levels = np.full((80, 100), 32768, np.uint16)
    levels[:, :30] = 65535
    planes = planes_of(as_radiograph(levels))

    assert planes.absolute
    assert (int(planes.native[0, 0]), int(planes.native[0, 99])) == (255, 128)


def test_a_narrow_band_is_stretched_between_its_ends():
    levels = np.repeat(np.array([1000, 1500, 2000], np.uint16), 40)[None, :].repeat(80, axis=0)
    planes = planes_of(as_radiograph(levels))

    assert not planes.absolute
    assert [int(planes.native[0, at]) for at in (0, 60, 110)] == [0, 128, 255]


def test_a_fine_pixel_is_the_mean_of_those_under_it():
    side = FINE_SIDE * 2
    levels = np.zeros((side // 2, side), np.uint8)
    levels[:, 1::2] = 200
    planes = planes_of(as_radiograph(levels))

    assert planes.fine.shape == (FINE_SIDE // 2, FINE_SIDE)
    assert planes.fine.min() == planes.fine.max() == pytest.approx(100 / 255)


def test_fields_have_the_mean_and_the_spread_of_their_pixels():
    """Half 0.2 and half 0.6: mean 0.4, standard deviation 0.2."""
    fine = np.zeros((200, 200), np.float32)
    fine[:, 0::2], fine[:, 1::2] = 0.2, 0.6
    fields = fields_of(fine)

    assert fields.side == 2
    assert fields.mean.shape == (100, 100)
    assert fields.mean[3, 4] == pytest.approx(0.4)
    assert fields.spread[3, 4] == pytest.approx(0.2, abs=1e-4)
