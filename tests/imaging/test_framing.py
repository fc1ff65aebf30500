"""Frames: found to the pixel line, taken off, told; open space is no frame."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.finding import FindingCode
from app.imaging.findings import inspect_radiograph
from app.imaging.framing import find_frame
from app.imaging.planes import planes_of
from tests.imaging import faults
from tests.imaging.pictures import KINDS, as_radiograph, mouth

SEEDS = (0, 1, 2, 3, 4, 5)


def codes(levels):
    return {each.code for each in inspect_radiograph(as_radiograph(levels)).findings}


@pytest.mark.parametrize("level", [0.0, 1.0])
@pytest.mark.parametrize("sides", [(0.05, 0.05, 0.05, 0.05), (0.02, 0.1, 0.05, 0.08), (0.12, 0.12, 0.12, 0.12)])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_frame_is_found_where_it_ends(seed, sides, level):
    picture = mouth(seed)
    framed = faults.framed(picture, level, sides)
    long_side = max(picture.shape)
    top, left = round(sides[0] * long_side), round(sides[2] * long_side)
    x, y, width, height = find_frame(planes_of(as_radiograph(framed))).inner

    assert (x, y) == pytest.approx((left, top), abs=4)
    assert (width, height) == pytest.approx((picture.shape[1], picture.shape[0]), abs=8)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_frame_is_told_with_the_share_it_takes(seed):
    picture = mouth(seed)
    framed = faults.framed(picture, 1.0)
    (found,) = [
        each for each in inspect_radiograph(as_radiograph(framed)).findings if each.code is FindingCode.BORDERED
    ]

    assert found.score == pytest.approx(1 - picture.size / framed.size, abs=0.03)


@pytest.mark.parametrize("seed", SEEDS)
def test_padding_on_two_opposite_sides_is_a_frame(seed):
    assert FindingCode.BORDERED in codes(faults.framed(mouth(seed), 0.0, (0.1, 0.1, 0.0, 0.0)))


@pytest.mark.parametrize("seed", [1, 2, 7, 8])
def test_a_strip_with_text_is_told(seed):
    """Under pictures with tissue along the lower edge; over open space its end cannot be seen."""
    assert FindingCode.BORDERED in codes(faults.with_footer(mouth(seed)))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(6))
def test_open_space_along_a_side_is_not_told_as_a_frame(kind, seed):
    assert FindingCode.BORDERED not in codes(mouth(seed, kind=kind, noise=0.0))


def test_the_radiograph_inside_measures_as_it_does_without_its_frame():
    picture = mouth(2, size=(420, 320))
    plain = inspect_radiograph(as_radiograph(picture)).measurements
    framed = inspect_radiograph(as_radiograph(faults.framed(picture, 0.0))).measurements

    for name in ("darkness", "lightness", "contrast", "noise"):
        assert framed[name] == pytest.approx(plain[name], abs=0.03), name


def test_an_even_image_is_not_all_frame():
    frame = find_frame(planes_of(as_radiograph(np.full((200, 300), 0.3, np.float32))))

    assert (frame.inner, frame.share) == ((0, 0, 300, 200), 0.0)
