"""What an image says of its receptor: it follows the receptor, and is silent where the image shows nothing."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.receptor_reading import receptor_measurements
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth


def with_air(seed: int, level: float) -> np.ndarray:
    """A mouth with open space of a known grey along the top."""
    picture = mouth(seed, noise=0.0).copy()
    picture[: picture.shape[0] // 5] = level
    # Real open space is never quite even; a side that is counts as a frame.
    return faults.scattered(picture, 0.006, seed)


@pytest.mark.parametrize("level", [0.02, 0.06, 0.12])
def test_the_grey_of_open_space_comes_back(level):
    found = receptor_measurements(as_radiograph(with_air(1, level)))

    assert found.air_grey == pytest.approx(level, abs=0.02)


def test_a_receptor_that_grows_noisier_reads_so():
    readings = [
        receptor_measurements(as_radiograph(faults.scattered(with_air(2, 0.05), sigma))).noise
        for sigma in (0.005, 0.015, 0.03)
    ]

    assert readings == sorted(readings)
    assert readings[-1] > 2 * readings[0]


def test_a_receptor_that_loses_its_sharpness_reads_so():
    readings = [
        receptor_measurements(as_radiograph(faults.blurred(mouth(3), width))).sharpness
        for width in (0.5, 2.0, 3.5)
    ]

    assert readings == sorted(readings)
    assert readings[-1] > readings[0]


def test_raw_levels_tell_nothing_of_how_light_they_are():
    found = receptor_measurements(as_radiograph(faults.raw16(mouth(4)), "TIFF"))

    assert found.air_grey is None
    assert found.enamel_grey is None


def test_an_even_file_tells_nothing_at_all():
    found = receptor_measurements(as_radiograph(np.full((300, 400), 20, np.uint8)))

    assert (found.air_grey, found.enamel_grey, found.noise, found.sharpness) == (None, None, None, None)
