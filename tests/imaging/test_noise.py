"""Noise: the known amount comes back, smooth shading counts for nothing."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.finding import FindingCode, Severity
from app.imaging.findings import inspect_radiograph
from app.imaging.noise import noise_of
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth, to8


@pytest.mark.parametrize("sigma", [0.02, 0.05, 0.1])
def test_the_noise_of_an_even_plane_is_measured(sigma):
    plane = to8(faults.scattered(np.full((400, 500), 0.5, np.float32), sigma))

    assert noise_of(plane) == pytest.approx(sigma, rel=0.06)


def test_an_even_plane_and_a_slope_have_none():
    slope = np.add.outer(np.arange(240), np.arange(240)).astype(np.uint8) // 2

    assert noise_of(np.full((240, 300), 90, np.uint8)) == 0.0
    assert noise_of(slope) < 0.003


def test_an_image_smaller_than_a_square_has_none():
    assert noise_of(np.zeros((20, 20), np.uint8)) == 0.0


def test_a_clipped_image_says_nothing():
    assert noise_of(np.where(np.random.default_rng(0).random((200, 200)) < 0.5, 0, 255).astype(np.uint8)) == 0.0


@pytest.mark.parametrize("seed", range(4))
def test_more_noise_measures_more_and_gross_noise_fails(seed):
    pictures = [faults.scattered(mouth(seed, noise=0.0), sigma) for sigma in (0.01, 0.03, 0.06, 0.12)]
    found = [inspect_radiograph(as_radiograph(picture)) for picture in pictures]
    values = [each.measurements["noise"] for each in found]

    assert values == sorted(values)
    assert (FindingCode.NOISY, Severity.FAIL) in {(each.code, each.severity) for each in found[-1].findings}
    assert FindingCode.NOISY not in {each.code for each in found[0].findings}
