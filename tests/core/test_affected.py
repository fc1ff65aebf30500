"""Which targets a region of an image takes away: worked cases, and a law."""

from __future__ import annotations

import doctest
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core import affected
from app.core.affected import WIDTHS_MM, affected_targets, as_laid
from app.core.dentition import Dentition
from app.core.targets import kind
from app.core.templates import Slot
from app.exchange.shared_data import builtin_templates

ADULT = builtin_templates()["adult-18"]


def promised(slot: Slot) -> list[str]:
    """What the slot promises of a full dentition."""
    whole = Dentition()
    asked = [each for target in slot.shows for each in whole.expand(target)]
    return [each for each in asked if kind(each) in ("crown", "apex") or _next_to(each)]


def _next_to(target: str) -> bool:
    parts = target.split(":")[1].split("-")
    return len(parts) == 2 and (
        abs(int(parts[0]) - int(parts[1])) == 1 or set(parts) in ({"11", "21"}, {"31", "41"})
    )


def rectangle(left: float, top: float, right: float, bottom: float) -> list[tuple[float, float]]:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def taken(slot_id: str, region: list[tuple[float, float]]) -> set[str]:
    slot = ADULT.slot(slot_id)
    return set(affected_targets(promised(slot), slot, region))


LEFT_THIRD, RIGHT_THIRD = rectangle(0, 0, 0.33, 1), rectangle(0.67, 0, 1, 1)


def test_a_cut_over_the_left_third_of_the_right_molar_view_takes_what_stands_hindmost() -> None:
    """The patient's right is on the viewer's left: the third molar goes, the first stays."""
    lost = taken("UR-molar", LEFT_THIRD)

    assert {"crown:18", "apex:18:MB"} <= lost
    assert not any("16" in each for each in lost)


def test_the_same_cut_on_the_other_side_of_the_mouth_takes_what_stands_foremost() -> None:
    lost = taken("UL-molar", LEFT_THIRD)

    assert "crown:26" in lost
    assert not any("28" in each for each in lost)


def test_a_cut_over_the_top_of_an_upper_periapical_takes_apices_only() -> None:
    lost = taken("UR-molar", rectangle(0, 0, 1, 0.3))

    assert {kind(each) for each in lost} == {"apex"}
    assert {each.split(":")[1] for each in lost} == {"16", "17", "18"}


def test_the_same_cut_over_the_top_of_a_lower_periapical_takes_crowns_and_contacts() -> None:
    lost = taken("LR-molar", rectangle(0, 0, 1, 0.3))

    assert {kind(each) for each in lost} == {"crown", "contact"}


def test_the_upper_half_of_a_bitewing_is_the_upper_teeth() -> None:
    lost = taken("BW-R-molar", rectangle(0, 0, 1, 0.45))

    assert lost
    assert all(each.split(":")[1][0] == "1" for each in lost)


def test_the_right_third_of_the_incisor_view_is_the_patients_left() -> None:
    lost = taken("U-incisors", RIGHT_THIRD)

    assert "crown:22" in lost
    assert not any(each.split(":")[1].startswith(("11", "12")) for each in lost)


def test_the_whole_image_takes_everything_and_nothing_takes_nothing() -> None:
    for slot in ADULT.slots:
        everything = promised(slot)

        assert list(affected_targets(everything, slot, rectangle(0, 0, 1, 1))) == everything
        assert affected_targets(everything, slot, []) == ()


def test_a_rim_as_narrow_as_a_slots_margin_takes_no_crown() -> None:
    assert not any(kind(each) == "crown" for each in taken("U-incisors", rectangle(0, 0, 0.02, 1)))


share = st.floats(0, 1)


@settings(max_examples=60, deadline=None)
@given(
    slot=st.sampled_from(ADULT.slots),
    region=st.tuples(share, share, share, share),
    grow=st.tuples(share, share, share, share),
)
def test_a_larger_region_never_takes_fewer(slot: Slot, region: tuple[float, ...], grow: tuple[float, ...]) -> None:
    left, right = sorted(region[:2])
    top, bottom = sorted(region[2:])
    larger = (left * grow[0], top * grow[1], right + (1 - right) * grow[2], bottom + (1 - bottom) * grow[3])
    of = promised(slot)

    assert set(affected_targets(of, slot, rectangle(left, top, right, bottom))) <= set(
        affected_targets(of, slot, rectangle(*larger))
    )


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("mirrored", [False, True])
def test_laying_a_point_keeps_it_on_the_image_and_four_turns_bring_it_back(turns: int, mirrored: bool) -> None:
    point = as_laid((0.2, 0.7), quarter_turns=turns, mirrored=mirrored)
    back = as_laid(point, quarter_turns=4 - turns)

    assert back == pytest.approx((0.8 if mirrored else 0.2, 0.7))


def test_the_examples_of_the_docstrings_hold() -> None:
    assert doctest.testmod(affected).failed == 0


def test_the_widths_are_the_published_ones_rounded() -> None:
    """Mesiodistal crown widths of shared/published/tooth_sizes.json, within 0.8 mm."""
    file = Path(__file__).resolve().parents[2] / "shared" / "published" / "tooth_sizes.json"
    table = json.loads(file.read_text(encoding="utf-8"))

    for jaw, widths in WIDTHS_MM.items():
        published = [table["permanent"][jaw][str(count)]["mesiodistal_mm"] for count in range(1, 9)]

        assert list(widths) == pytest.approx(published, abs=0.8)
