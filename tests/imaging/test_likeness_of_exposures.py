"""Simulated exposures of one region: a copy is told, one with the tube turned is another, and from one stand a
person has to look."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from app.core.dentition import Dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.duplicates import duplicate_of
from app.imaging.finding import Severity
from app.imaging.likeness import Sketch, compare
from app.imaging.simulator import SlotPose, TechniqueErrors, expose, grown_mouth
from app.imaging.thresholds import usual_thresholds
from tests.imaging.copies_study import COPIES, said, sketched

SLOTS = ("UR-molar", "BW-R-molar")
HEAVY = {"cut by 5 %, 0.7 times the size, JPEG 75", "mirrored, cut by 3 %, half the size, JPEG 80"}
HEAVY |= {"JPEG 60", "half the size", "half the size, JPEG 60", "cut by 5 %, JPEG 60"}
"""What leaves too little noise, or too few pixels, to be sure."""


@cache
def pixels(slot: str, seed: int = 1, **errors: float) -> np.ndarray:
    pose = SlotPose.of(builtin_templates()["adult-18"].slot(slot))
    return expose(pose, grown_mouth(Dentition(), 5), seed=seed, errors=TechniqueErrors(**errors), width=640).pixels


@cache
def original(slot: str) -> Sketch:
    return sketched(pixels(slot))


@cache
def another(slot: str, **errors: float) -> Sketch:
    return sketched(pixels(slot, 2, **errors))


@pytest.mark.parametrize("change", COPIES)
@pytest.mark.parametrize("slot", SLOTS)
def test_a_copy_is_told_however_it_was_changed(slot: str, change: str) -> None:
    copy = COPIES[change](pixels(slot))

    assert said(copy, original(slot)) in ({"copy", "look-alike"} if change in HEAVY else {"copy"})


@pytest.mark.parametrize("degrees", [1.0, -2.0, 4.0])
@pytest.mark.parametrize("way", ["horizontal_deg", "vertical_deg"])
@pytest.mark.parametrize("slot", SLOTS)
def test_an_exposure_with_the_tube_turned_is_no_copy(slot: str, way: str, degrees: float) -> None:
    """Parts at different depths move by different amounts: 10 mm of depth by 0.17 mm a degree."""
    again = another(slot, **{way: degrees})

    assert compare(again, original(slot)) is None or (
        abs(degrees) == 1.0 and said(again, original(slot)) != "copy"
    )


@pytest.mark.parametrize("moved", [1.0, 2.5])
def test_a_retake_moved_and_turned_is_no_copy(moved: float) -> None:
    again = another("UR-molar", shift_mesial_mm=moved, shift_depth_mm=moved / 2, horizontal_deg=1.5)

    assert compare(again, original("UR-molar")) is None


@pytest.mark.parametrize("errors", [{}, {"shift_mesial_mm": 1.0}, {"shift_depth_mm": 2.0}, {"exposure": 1.3}])
@pytest.mark.parametrize("slot", SLOTS)
def test_another_exposure_from_the_same_stand_is_never_surely_a_copy(slot: str, errors: dict[str, float]) -> None:
    """Tube and receptor moved together by a millimetre, at 350 mm and 10 mm of depth: parallax is 0.03 mm, a third
    of a pixel. Only the noise differs. The likeness may be told, for a person to look.
    """
    found = duplicate_of(another(slot, **errors), [("first", original(slot))], usual_thresholds())

    assert found is None or (found.severity is Severity.WARNING and "Look" in found.message)


@pytest.mark.parametrize("slot", SLOTS)
def test_a_copy_that_kept_its_noise_is_sure(slot: str) -> None:
    found = duplicate_of(sketched(pixels(slot)[:, ::-1]), [("first", original(slot))], usual_thresholds())

    assert found is not None
    assert found.severity is Severity.FAIL


def test_a_sure_copy_is_named_before_a_look_alike() -> None:
    earlier = [("again", another("UR-molar")), ("first", original("UR-molar"))]

    assert duplicate_of(sketched(pixels("UR-molar"), 90), earlier, usual_thresholds()).of == "first"  # type: ignore[union-attr]
