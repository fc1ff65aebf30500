"""Each technique error changes the truth as physics says, and more of it changes more."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from app.imaging.simulator import Equipment, TechniqueErrors
from tests.simulator.scenes import truth

BISECTING = Equipment(technique="bisecting")


def rises(values: list[float]) -> bool:
    return all(first < second for first, second in pairwise(values))


def test_a_steeper_tube_foreshortens_in_the_bisecting_technique():
    lengths = [
        truth("U-incisors", TechniqueErrors(vertical_deg=deg), BISECTING).length_ratio("11")
        for deg in (20, 10, 0, -10, -20)
    ]

    assert rises(lengths)
    assert lengths[0] < 0.85
    assert lengths[-1] > 1.15


@pytest.mark.parametrize(("slot_id", "contact"), [("UR-molar", "contact:17-16"), ("BW-R-molar", "contact:47-46")])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_wrong_horizontal_angle_overlaps_the_contacts(slot_id, contact, sign):
    overlaps = [
        truth(slot_id, TechniqueErrors(horizontal_deg=sign * deg)).of(contact).overlap_mm
        for deg in (8.0, 14.0, 20.0, 28.0)
    ]

    assert rises(overlaps)
    assert not truth(slot_id, TechniqueErrors(horizontal_deg=sign * 20.0)).of(contact).shown


def test_overlap_is_about_contact_depth_times_the_tangent_of_the_error():
    """Width of overlap about D tan h at a flat contact of depth D (computed); molars touch over 1 to 4 mm."""
    less, more = (
        truth("BW-R-molar", TechniqueErrors(horizontal_deg=deg)).of("contact:47-46").overlap_mm
        for deg in (10.0, 20.0)
    )
    depth = (more - less) / (np.tan(np.deg2rad(20.0)) - np.tan(np.deg2rad(10.0)))

    assert 0.8 < depth < 4.5


def test_a_receptor_not_deep_enough_cuts_the_apices_and_too_deep_the_crowns():
    margins = [
        truth("UR-molar", TechniqueErrors(shift_depth_mm=-mm)).of("apex:16:P").margin_mm for mm in (9, 5, 0)
    ]
    crowns = [truth("UR-molar", TechniqueErrors(shift_depth_mm=mm)).of("crown:16").margin_mm for mm in (7, 4, 0)]

    assert rises(margins)
    assert rises(crowns)
    assert margins[0] < 0
    assert crowns[0] < 0


def test_a_millimetre_of_shift_is_a_millimetre_of_margin():
    good, moved = (
        truth("LR-molar", TechniqueErrors(shift_depth_mm=mm)).of("apex:46:M").margin_mm for mm in (0.0, -3.0)
    )

    assert good - moved == pytest.approx(3.0, abs=0.15)


def test_a_receptor_too_far_forward_loses_the_last_molar():
    margins = [
        truth("UL-molar", TechniqueErrors(shift_mesial_mm=mm)).of("distal:28").margin_mm for mm in (14, 7, 0)
    ]

    assert rises(margins)
    assert margins[0] < 0


def test_forward_is_the_same_on_both_sides():
    right, left = (
        truth("UR-molar", TechniqueErrors(shift_mesial_mm=5)),
        truth("UL-molar", TechniqueErrors(shift_mesial_mm=5)),
    )

    assert right.of("distal:18").margin_mm == pytest.approx(left.of("distal:28").margin_mm, abs=0.05)


@pytest.mark.parametrize("shape", ["rectangular", "round"])
def test_a_collimator_off_centre_cuts_the_cone(shape):
    equipment = Equipment(collimator=shape)
    cut = [
        truth("LR-premolar", TechniqueErrors(collimator_offset_mm=(mm, 0.0)), equipment).collimated_fraction
        for mm in (0.0, 16.0, 24.0, 32.0)
    ]

    assert cut[0] == 0.0
    assert rises(cut)


def test_the_fraction_cut_by_a_straight_edge_is_its_share_of_the_width():
    """41 mm wide, field 3 mm beyond each edge: an offset of 13.25 mm leaves a quarter of the width dark."""
    found = truth("LR-premolar", TechniqueErrors(collimator_offset_mm=(13.25, 0.0)))

    assert found.collimated_fraction == pytest.approx(0.25, abs=0.01)


def test_a_cone_cut_takes_the_targets_it_lies_over_and_no_others():
    found = truth("LR-molar", TechniqueErrors(collimator_offset_mm=(16.0, 0.0)))

    assert "crown:48" in found.missed
    assert "crown:46" in found.shown


def test_a_leaning_receptor_with_the_beam_standing_elongates():
    lengths = [truth("LL-canine", TechniqueErrors(tilt_deg=deg)).length_ratio("33") for deg in (0, 12, 24)]

    assert rises(lengths)


def test_a_turned_receptor_brings_the_corners_in():
    margins = [
        min(each.margin_mm for each in truth("UR-molar", TechniqueErrors(rotation_deg=deg)).targets)
        for deg in (30, 18, 0)
    ]

    assert rises(margins)


def test_a_steeper_tube_moves_the_shadow_toward_the_crowns_edge_of_a_parallel_receptor():
    """With a parallel receptor the vertical angle does not change length; it moves the image off the receptor."""
    crowns = [truth("UR-molar", TechniqueErrors(vertical_deg=deg)).of("crown:16").margin_mm for deg in (24, 12, 0)]
    ratios = [truth("UR-molar", TechniqueErrors(vertical_deg=deg)).length_ratio("16") for deg in (24, 12, 0)]

    assert rises(crowns)
    assert ratios == pytest.approx([ratios[2]] * 3, abs=0.06)


def test_motion_is_told_in_pixels_at_the_receptor():
    """1 mm at the teeth, magnified, over 0.03 mm a pixel."""
    found = truth("LR-molar", TechniqueErrors(motion_mm=1.0))

    assert found.motion_px == pytest.approx(found.magnification / 0.03, rel=1e-6)


def test_exposure_is_told_as_given():
    assert truth("LR-molar", TechniqueErrors(exposure=0.4)).exposure == 0.4
