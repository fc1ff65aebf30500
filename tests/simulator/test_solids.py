"""Lengths of rays in solids against formulae for the sphere, the slab and the union."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.simulator.profiles import heights_between, smooth
from app.imaging.simulator.solids import Loft, RayGrid, path_mm

FAR = 1.0e6


def ellipsoid(wide: float, deep: float, tall: float, at: tuple[float, float] = (0.0, 0.0)) -> Loft:
    a = heights_between(-tall, tall)
    share = np.sqrt(np.clip(1 - (a / tall) ** 2, 0, 1))
    return Loft(
        start=-tall, centre_x=0 * a + at[0], centre_b=0 * a + at[1], half_x=wide * share, half_b=deep * share
    )


def rays(source: tuple[float, float, float] = (0.0, FAR, 0.0), step: float = 0.05, reach: float = 6.0) -> RayGrid:
    side = np.arange(-reach, reach, step, dtype=np.float32)
    return RayGrid(x=side, a=side, source=source)


def test_chords_of_an_ellipsoid_are_those_of_the_formula():
    grid = rays()
    found = path_mm([ellipsoid(4.0, 3.0, 5.0)], grid, 40)
    inside = 1 - (grid.x[None, :] / 4.0) ** 2 - (grid.a[:, None] / 5.0) ** 2
    expected = 6.0 * np.sqrt(np.clip(inside, 0, None))

    # Away from the rim, where the chord drops to nothing within a pixel.
    assert np.abs(found - expected)[inside > 0.03].max() < 0.12


def test_the_volume_seen_is_the_volume_there_is():
    grid = rays()
    seen = float(path_mm([ellipsoid(4.0, 3.0, 5.0)], grid, 40).sum()) * grid.step**2

    assert seen == pytest.approx(4 / 3 * np.pi * 60.0, rel=0.005)


def test_a_slanting_ray_is_longer_by_the_cosine():
    """A slab of 2 mm crossed at 30 degrees: 2 / cos 30."""
    flat = np.zeros(1201)
    slab = Loft(start=-60.0, centre_x=flat, centre_b=flat, half_x=flat + 60, half_b=flat + 1.0, power=60.0)
    middle = np.arange(-0.5, 0.5, 0.05, dtype=np.float32)
    grid = RayGrid(x=middle, a=middle, source=(0.0, FAR * np.cos(np.pi / 6), FAR * np.sin(np.pi / 6)))

    assert float(path_mm([slab], grid, 16).mean()) == pytest.approx(2 / np.cos(np.pi / 6), rel=0.01)


def test_what_two_solids_share_is_counted_once():
    grid = rays()
    one = path_mm([ellipsoid(4.0, 3.0, 5.0)], grid, 40)
    twice = path_mm([ellipsoid(4.0, 3.0, 5.0), ellipsoid(4.0, 3.0, 5.0)], grid, 40)

    np.testing.assert_allclose(twice, one, atol=1e-4)


def test_within_another_solid_only_the_common_part_counts():
    grid = rays()
    large, small = ellipsoid(4.0, 3.0, 5.0), ellipsoid(2.0, 1.5, 2.5)

    np.testing.assert_allclose(
        path_mm([large], grid, 60, within=[small]).sum(), path_mm([small], grid, 60).sum(), rtol=0.02
    )


def test_parts_cut_level_fit_without_a_seam():
    grid = rays()
    whole = ellipsoid(4.0, 3.0, 5.0)
    low, high = whole.between(-9.0, 1.23), whole.between(1.23, 9.0)
    assert low is not None
    assert high is not None
    parts = path_mm([low], grid, 40) + path_mm([high], grid, 40)
    row = int(np.argmin(np.abs(grid.a - 1.23)))

    np.testing.assert_allclose(parts[row - 3 : row + 4], path_mm([whole], grid, 40)[row - 3 : row + 4], atol=0.2)


def test_a_smooth_profile_passes_its_knots_and_never_beyond_them():
    knots = ((0.0, 1.0), (0.4, 3.0), (0.7, 3.0), (1.0, 0.5))
    at = np.linspace(0, 1, 301)
    curve = smooth(knots, at)

    assert smooth(knots, np.array([0.0, 0.4, 0.7, 1.0])) == pytest.approx([1.0, 3.0, 3.0, 0.5])
    assert curve.min() >= 0.5 - 1e-9
    assert curve.max() <= 3.0 + 1e-9
