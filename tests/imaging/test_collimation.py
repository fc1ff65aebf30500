"""Cone cut: found wherever it lies, whatever it takes, and measured right."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.finding import Finding, FindingCode, Severity
from app.imaging.findings import inspect_radiograph
from app.imaging.outlines import outline_of
from app.imaging.regions import grown, parts_at_border
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth

SEEDS = (0, 1, 2, 3, 5, 8)
ANGLES = (0.0, 1.0, 2.2, 3.14, 4.3, 5.4)


def cone_cuts(levels: np.ndarray, form: str = "PNG", **options) -> list[Finding]:
    found = inspect_radiograph(as_radiograph(levels, form, **options)).findings
    return [each for each in found if each.code is FindingCode.CONE_CUT]


@pytest.mark.parametrize("radius", [None, 1.0, 1.6])
@pytest.mark.parametrize("share", [0.06, 0.2, 0.5])
@pytest.mark.parametrize(("seed", "angle"), list(zip(SEEDS, ANGLES, strict=True)))
def test_an_area_behind_a_line_or_an_arc_is_found_with_its_share(radius, share, seed, angle):
    found = cone_cuts(faults.cut(mouth(seed), share, angle=angle, radius=radius)[0])

    assert sum(each.score for each in found) == pytest.approx(share, abs=0.03)
    assert found[0].severity is Severity.FAIL


@pytest.mark.parametrize("seed", SEEDS)
def test_a_corner_of_a_rectangular_field_is_found(seed):
    found = cone_cuts(faults.corner_cut(mouth(seed), 0.3))

    assert sum(each.score for each in found) == pytest.approx(0.3, abs=0.04)


@pytest.mark.parametrize("seed", SEEDS)
def test_it_is_found_dark_in_a_file_shown_the_other_way_round(seed):
    found = cone_cuts(faults.cut(1 - mouth(seed), 0.15, angle=0.6, level=0.0, radius=1.2)[0])

    assert sum(each.score for each in found) == pytest.approx(0.15, abs=0.03)


@pytest.mark.parametrize("level", [0.0, 1.0])
@pytest.mark.parametrize("seed", SEEDS)
def test_it_may_meet_a_frame(seed, level):
    found = cone_cuts(faults.framed(faults.cut(mouth(seed), 0.2, angle=0.5, radius=1.2)[0], level))

    assert found[0].severity is Severity.FAIL


@pytest.mark.parametrize("seed", SEEDS)
def test_noise_and_compression_do_not_hide_it(seed):
    picture = faults.scattered(faults.cut(mouth(seed), 0.15, angle=2.5, level=0.95, radius=1.3)[0], 0.01)

    assert cone_cuts(picture, "JPEG", quality=50)


def test_the_box_is_where_it_lies():
    picture, mask = faults.cut(mouth(2), 0.2, angle=0.0)
    columns = np.nonzero(mask.any(axis=0))[0]

    (found,) = cone_cuts(picture)
    x, y, width, height = found.box

    assert x == pytest.approx(columns.min(), abs=12)
    assert (y, x + width, height) == (0, picture.shape[1], picture.shape[0])


def test_the_outline_lies_in_the_box_and_goes_round_the_area():
    (found,) = cone_cuts(faults.cut(mouth(2), 0.25, angle=0.8, radius=1.2)[0])
    x, y, width, height = found.box
    corners = np.array(found.outline)
    turned = np.roll(corners, -1, axis=0)
    area = abs(float((corners[:, 0] * turned[:, 1] - turned[:, 0] * corners[:, 1]).sum())) / 2

    assert ((corners >= (x, y)) & (corners <= (x + width, y + height))).all()
    assert area == pytest.approx(0.25 * 520 * 400, rel=0.2)


def test_a_larger_cut_never_scores_less():
    totals = [
        sum(each.score for each in cone_cuts(faults.cut(mouth(5), share, angle=1.0, radius=1.4)[0]))
        for share in (0.06, 0.1, 0.2, 0.3, 0.4, 0.5)
    ]

    assert totals == sorted(totals)


def test_an_exact_line_arc_and_corner_are_told_apart():
    y, x = np.mgrid[0:60, 0:80]

    assert outline_of(x > 55).shape == "line"
    assert outline_of(np.hypot(x - 30, y - 30) > 45).shape in ("arc", "window")
    assert outline_of(np.hypot(x - 30, y + 10) > 50).shape == "arc"
    assert outline_of((x > 60) | (y > 45)).shape == "corner"


def test_the_radius_of_an_exact_arc_is_measured():
    y, x = np.mgrid[0:60, 0:80]

    assert outline_of(np.hypot(x - 30, y + 10) > 50).radius == pytest.approx(50, abs=1)


def test_parts_are_those_that_a_walk_by_four_neighbours_reaches():
    """Every part of a random mask against a flood from one of its places."""
    rng = np.random.default_rng(4)
    mask = rng.random((40, 50)) < 0.6

    for part in parts_at_border(mask, 5):
        flood = np.zeros_like(mask)
        flood.ravel()[int(np.argmax(part))] = True
        while (wider := grown(flood) & mask).sum() > flood.sum():
            flood = wider

        assert np.array_equal(part, flood)
