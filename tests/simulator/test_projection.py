"""Projection against plane geometry: magnification, isometry, same lingual and opposite buccal, inverse square.

Formulae (computed): M = SID / (SID - OID); a tooth at angle a to the receptor, beam at angle b to the receptor's
normal: image length over length = cos(a - b) / cos b. The buccal object rule: Clark 1909, restated by Richards.
"""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.simulator import Equipment, TechniqueErrors
from app.imaging.simulator.aim import aimed
from app.imaging.simulator.projection import Field, View
from tests.simulator.scenes import FAR, average_mouth, pose, truth


def plain_view(source_mm: float, sideways_mm: float = 0.0) -> View:
    return View(
        source=np.array([sideways_mm, -source_mm, 0.0]),
        centre=np.zeros(3),
        u=np.array([1.0, 0.0, 0.0]),
        v=np.array([0.0, 0.0, 1.0]),
        size_mm=(41.0, 31.0),
        field=Field(shape="rectangular", centre=(0.0, 0.0), half=(23.5, 18.5)),
    )


@pytest.mark.parametrize(
    ("distance", "object_to_receptor", "expected"),
    [(400.0, 10.0, 1.0256), (400.0, 25.0, 1.0667), (200.0, 10.0, 1.0526), (200.0, 25.0, 1.1429)],
)
def test_magnification_is_receptor_distance_over_object_distance(distance, object_to_receptor, expected):
    rod = np.array([[-5.0, -object_to_receptor, 0.0], [5.0, -object_to_receptor, 0.0]])
    ends = plain_view(distance).project(rod)

    assert (ends[1, 0] - ends[0, 0]) / 10.0 == pytest.approx(expected, abs=1e-4)
    assert plain_view(distance).magnification(rod) == pytest.approx([expected, expected], abs=1e-4)


def test_a_longer_cone_magnifies_less():
    long, short = (
        truth("LR-molar", equipment=Equipment(distance_mm=400)),
        truth("LR-molar", equipment=Equipment(distance_mm=200)),
    )

    assert 1.0 < long.magnification < short.magnification


@pytest.mark.parametrize("slot_id", ["U-incisors", "UR-canine", "UL-molar", "L-incisors", "LR-premolar"])
def test_in_the_bisecting_technique_teeth_come_out_true_to_length(slot_id):
    """Isometry: beam square to the bisector, ratio 1 for every angle between tooth and receptor."""
    found = truth(slot_id, equipment=Equipment(distance_mm=100_000.0, technique="bisecting"))
    lengths = [each.ratio for each in found.teeth]

    # Single teeth lean a few degrees to either side of the row's mean axis, to which the receptor is set.
    assert np.mean(lengths) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("slot_id", ["U-incisors", "LL-canine", "UR-molar"])
def test_in_the_paralleling_technique_teeth_come_out_true_to_length(slot_id):
    assert np.mean([each.ratio for each in truth(slot_id, equipment=FAR).teeth]) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("lean", [10.0, 20.0, 30.0])
@pytest.mark.parametrize("steeper", [-15.0, -5.0, 0.0, 5.0, 15.0])
def test_length_follows_the_formula_of_angulation(lean, steeper):
    """Tooth at angle a to the receptor, beam at b to its normal: cos(a - b) / cos b."""
    tooth = "11"
    errors = TechniqueErrors(tilt_deg=lean, vertical_deg=steeper)
    aim = aimed(pose("U-incisors"), average_mouth(), errors, FAR)
    axis = average_mouth().teeth[tooth].axes[2]
    up, square = aim.view.v, aim.view.normal
    a = np.arctan2(-(axis @ square), axis @ up)
    beam = aim.view.source - aim.pivot
    b = np.arctan2(-(beam @ up), beam @ square)
    ratio = truth("U-incisors", errors, FAR).length_ratio(tooth)
    in_plane = np.hypot(axis @ square, axis @ up)

    # The formula is plane; the tooth leans 2 degrees out of the plane.
    assert ratio == pytest.approx(abs(np.cos(a + b)) / np.cos(b) * in_plane, abs=0.01)


def test_moving_the_tube_forward_moves_lingual_objects_forward_against_buccal_ones():
    """Same lingual, opposite buccal: the palatal root of an upper molar against its buccal roots."""
    mouth = average_mouth()
    moved = []
    for turned in (0.0, 15.0):
        aim = aimed(pose("UR-molar"), mouth, TechniqueErrors(horizontal_deg=turned))
        lingual, buccal = (aim.view.project(mouth.teeth["16"].apex(code))[0, 0] for code in ("P", "DB"))
        moved.append((lingual - buccal) * aim.mesial)

    assert moved[1] > moved[0] + 0.5


def test_moving_the_tube_down_moves_lingual_objects_down_against_buccal_ones():
    mouth = average_mouth()
    flatter, good = (
        aimed(pose("UR-molar"), mouth, TechniqueErrors(vertical_deg=deg)).view for deg in (-10.0, 0.0)
    )

    def lingual_over_buccal(view: View) -> float:
        tooth = mouth.teeth["16"]
        return float(view.project(tooth.apex("P"))[0, 1] - view.project(tooth.apex("MB"))[0, 1])

    assert lingual_over_buccal(flatter) < lingual_over_buccal(good)


def test_the_patients_right_lies_on_the_viewers_left():
    view = aimed(pose("U-incisors"), average_mouth()).view
    right, left = (view.project(average_mouth().teeth[t].neck)[0, 0] for t in ("11", "21"))

    assert right < left


@pytest.mark.parametrize(("slot_id", "tooth", "above"), [("UR-molar", "16", True), ("LR-molar", "46", False)])
def test_upper_roots_point_up_and_lower_roots_down(slot_id, tooth, above):
    view = aimed(pose(slot_id), average_mouth()).view
    placed = average_mouth().teeth[tooth]
    tip = view.project(placed.apex(placed.roots[0]))[0, 1]

    assert bool(tip > view.project(placed.neck)[0, 1]) is above
