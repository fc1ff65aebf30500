"""The width of edges: grows with blur, and with nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageFilter

from app.imaging.finding import FindingCode, Severity
from app.imaging.findings import inspect_radiograph
from app.imaging.sharpness import NOISE_KEPT, OWN, REBLUR, sharpness_of
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth

SEEDS = (0, 1, 2, 3, 5)


def width_of(levels, name="edge_width"):
    return inspect_radiograph(as_radiograph(levels)).measurements.get(name)


def blurred(levels):
    found = [e for e in inspect_radiograph(as_radiograph(levels)).findings if e.code is FindingCode.BLURRED]
    return found[0].severity if found else None


def slanted_steps(sigma: float) -> np.ndarray:
    """Long edges a few degrees off the upright, blurred by a known standard deviation, pixels."""
    y, x = np.mgrid[0:320, 0:420]
    steps = (((x + 0.09 * y) // 60) % 2 * 150 + 50).astype(np.uint8)
    return np.asarray(Image.fromarray(steps).filter(ImageFilter.GaussianBlur(sigma)), np.float32) / 255


@pytest.mark.parametrize("sigma", [1.5, 2.0, 3.0])
def test_the_width_of_known_edges_is_measured(sigma):
    plane = slanted_steps(sigma)
    found = sharpness_of(plane, np.zeros((80, 105), bool), 4, 0.0, 420)

    assert found.overall * 420 / 1000 == pytest.approx(sigma, rel=0.15)


def test_what_the_method_itself_adds_is_what_its_taps_say():
    """Variances of taps 1 2 1, of a difference over two pixels, of taps 1 4 6 4 1; noise by convolution."""
    first, second, slope = (
        np.array(taps, float) / total for taps, total in (((1, 2, 1), 4), ((1, 4, 6, 4, 1), 16), ((1, 0, -1), 2))
    )

    def spread(taps):
        at = np.arange(len(taps)) - len(taps) // 2
        return float((taps * at**2).sum())

    both = np.convolve(first, second)
    kept = tuple(float((np.convolve(taps, slope) ** 2).sum() * (taps**2).sum()) for taps in (first, both))

    assert spread(second) == REBLUR
    assert spread(first) + 1 / 3 == pytest.approx(OWN)
    assert kept == pytest.approx(NOISE_KEPT, abs=5e-4)


@pytest.mark.parametrize("seed", SEEDS)
def test_more_blur_gives_wider_edges(seed):
    widths = [width_of(faults.blurred(mouth(seed), sigma)) for sigma in (1.5, 3.0, 4.5, 6.0, 8.0)]

    assert widths == sorted(widths)
    assert widths[0] < widths[-1]


@pytest.mark.parametrize("seed", SEEDS)
def test_gross_blur_fails(seed):
    assert blurred(faults.blurred(mouth(seed), 7)) is Severity.FAIL


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("seed", SEEDS)
def test_movement_along_one_direction_is_blur(seed, axis):
    assert blurred(faults.moved(mouth(seed), 20, axis)) is not None


@pytest.mark.parametrize("seed", SEEDS)
def test_contrast_does_not_change_the_width(seed):
    picture = faults.blurred(mouth(seed), 5)

    assert width_of(picture * 0.5 + 0.2) == pytest.approx(width_of(picture), rel=0.12)


@pytest.mark.parametrize("seed", SEEDS)
def test_noise_does_not_make_a_blurred_image_sharp(seed):
    picture = faults.blurred(mouth(seed), 7)

    assert blurred(faults.scattered(picture, 0.02)) is not None


@pytest.mark.parametrize("seed", SEEDS)
def test_the_number_of_pixels_does_not_change_the_width(seed):
    picture = faults.blurred(mouth(seed, size=(1040, 800)), 5)
    half = faults.resized(picture, picture.shape[1] // 2, picture.shape[0] // 2)

    assert width_of(half) == pytest.approx(width_of(picture), rel=0.12)


@pytest.mark.parametrize("dress", [faults.with_label, faults.with_footer, lambda p: faults.framed(p, 1.0)])
@pytest.mark.parametrize("seed", SEEDS)
def test_sharp_text_and_frames_do_not_make_a_blurred_image_sharp(seed, dress):
    assert blurred(dress(faults.blurred(mouth(seed), 7))) is not None


def test_an_even_plane_has_no_edges_to_measure():
    found = sharpness_of(np.full((100, 120), 0.5, np.float32), np.zeros((25, 30), bool), 4, 0.0, 120)

    assert (found.overall, found.across, found.down, found.tiles) == (None, None, None, 0)
