"""Arch form against Mina and others 2017 (casts), and the built teeth against the table they are built from.

Braun and others 1998: the beta function of width and depth; factor and exponent from memory.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from app.core.teeth import LOWER_PERMANENT, PERMANENT, UPPER_PERMANENT
from app.imaging.simulator.aim import aimed
from app.imaging.simulator.published import arch_table, tooth_size
from app.imaging.simulator.truth import overlap_mm
from tests.simulator.scenes import average_mouth, pose

TABLE = arch_table()


def facial(tooth: str) -> np.ndarray:
    """The middle of a crown's outer surface."""
    placed = average_mouth().teeth[tooth]
    _, b, _, deep = placed.shape.crown[0].section(placed.contact_height)
    return placed.to_world([[0.0, b + deep, placed.contact_height]])[0]


def test_the_curve_is_as_deep_at_the_midline_as_its_depth_says():
    """3.0314 * 0.5^1.6 = 1."""
    assert TABLE["beta"]["factor"] * 0.5 ** (2 * TABLE["beta"]["exponent"]) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize(("arch", "right", "left"), [("upper", "16", "26"), ("lower", "46", "36")])
def test_width_at_the_first_molars_lies_within_the_measured_spread(arch, right, left):
    measured = TABLE["first_molar"][arch]
    width = abs(facial(left)[0] - facial(right)[0])

    assert width == pytest.approx(measured["width_mm"], abs=measured["width_sd_mm"])


@pytest.mark.parametrize(("arch", "molar", "incisor"), [("upper", "16", "11"), ("lower", "46", "41")])
def test_depth_to_the_first_molars_lies_within_two_measured_spreads(arch, molar, incisor):
    measured = TABLE["first_molar"][arch]
    depth = facial(molar)[1] - facial(incisor)[1]

    assert depth == pytest.approx(measured["depth_mm"], abs=2 * measured["depth_sd_mm"])


@pytest.mark.parametrize("tooth", PERMANENT)
def test_a_crown_is_as_wide_and_deep_as_the_table_says(tooth):
    body = average_mouth().teeth[tooth].shape.crown[0]
    size = tooth_size(tooth)

    assert 2 * body.half_x.max() == pytest.approx(size.mesiodistal_mm, abs=0.1)
    assert 2 * body.half_b.max() == pytest.approx(size.buccolingual_mm, abs=0.1)


@pytest.mark.parametrize("tooth", PERMANENT)
def test_a_tooth_is_as_long_as_the_table_says(tooth):
    shape = average_mouth().teeth[tooth].shape
    size = tooth_size(tooth)
    edge = min(solid.reach[0] for solid in shape.crown)
    deepest = max(a for _, _, a in shape.apices.values())
    root = max(size.root_mm, size.palatal_root_mm or 0.0)

    assert -edge == pytest.approx(size.crown_mm, abs=0.15)
    assert deepest == pytest.approx(root, abs=0.3)


@pytest.mark.parametrize("row", [UPPER_PERMANENT, LOWER_PERMANENT])
def test_neighbours_touch(row):
    """Facing sides of neighbours lie within half a millimetre: tipped molars pass each other a little."""
    teeth = average_mouth().teeth
    gaps = []
    for first, second in pairwise(row):
        a, b = teeth[first], teeth[second]
        _, _, wide_a, _ = a.shape.crown[0].section(a.contact_height)
        _, _, wide_b, _ = b.shape.crown[0].section(b.contact_height)
        side_a = a.to_world([[wide_a, 0.0, a.contact_height]])[0]
        side_b = b.to_world([[-wide_b, 0.0, b.contact_height]])[0]
        gaps.append(np.linalg.norm((side_a - side_b)[:2]))

    assert max(gaps) < 0.5


def test_the_two_sides_of_an_average_mouth_mirror_each_other():
    right, left = average_mouth().teeth["16"], average_mouth().teeth["26"]

    assert right.apex("P") == pytest.approx(left.apex("P") * (-1, 1, 1), abs=0.05)


def test_overlap_is_defined_for_neighbours_seen_from_outside():
    view = aimed(pose("BW-R-molar"), average_mouth()).view
    teeth = average_mouth().teeth

    # Teeth that do not touch leave a gap.
    assert overlap_mm(teeth["17"], teeth["15"], view) < -5.0
