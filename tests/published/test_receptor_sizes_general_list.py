"""Receptor sizes against a general list of intraoral receptors (juniordentist.com) and a set of imaging cards.

Copied into shared/published/receptors.json: nominal outer sizes (verified), usual uses (verified, low grade), and
the lengths that a receptor must hold, computed from handbook averages of crown and root length.
"""

from __future__ import annotations

import pytest

from app.core.templates import RECEPTOR_SIZES_MM
from tests.published.shared_files import ADULT_IDS, TEMPLATE_IDS, published, slots

RECEPTORS = published("receptors")
SIZES = {row["size"]: row for row in RECEPTORS["sizes"]}
FIT = RECEPTORS["fit"]
MARGINS_MM = FIT["margin_beyond_apex_mm"] + FIT["margin_beyond_edge_mm"]


def every_slot(*template_ids: str) -> list:
    return [
        pytest.param(slot, id=f"{template_id}:{slot['id']}")
        for template_id in template_ids
        for slot in slots(template_id, required_only=False)
    ]


def upright_mm(slot: dict) -> int:
    """Nominal height of the receptor as it stands in the mouth, in mm."""
    size = SIZES[slot["receptor"]["size"]]
    return size["long_mm"] if slot["receptor"]["orientation"] == "portrait" else size["short_mm"]


def test_sizes_in_mm_are_those_of_the_list():
    assert {n: (row["short_mm"], row["long_mm"]) for n, row in SIZES.items()} == RECEPTOR_SIZES_MM


@pytest.mark.parametrize("slot", every_slot(*TEMPLATE_IDS))
def test_every_slot_names_a_size_of_the_list_and_an_orientation(slot):
    assert slot["receptor"]["size"] in SIZES
    assert slot["receptor"]["orientation"] in ("portrait", "landscape")


@pytest.mark.parametrize("slot", every_slot(*ADULT_IDS))
def test_adult_receptors_are_used_as_the_list_says(slot):
    """Size 1 for adult front periapicals, 2 for adult back periapicals and bitewings, 4 for occlusals."""
    front = not any(target.startswith("crown:") and target[-1] in "5678" for target in slot["shows"])
    allowed = {
        "bitewing": {2},
        "occlusal": {4},
        "periapical": {1, 2} if front else {2},
    }

    assert slot["receptor"]["size"] in allowed[slot["kind"]]


@pytest.mark.parametrize("slot", every_slot("mixed-12"))
def test_childrens_receptors_are_used_as_the_list_says(slot):
    """Size 1 for child bitewings, 2 for child occlusals; size 1 for the periapicals is common practice."""
    assert slot["receptor"]["size"] == (2 if slot["kind"] == "occlusal" else 1)


@pytest.mark.parametrize("slot", every_slot("primary-8"))
def test_small_childrens_receptors_are_used_as_the_list_says(slot):
    """Size 0 for small children, 2 for their occlusals."""
    assert slot["receptor"]["size"] == (2 if slot["kind"] == "occlusal" else 0)


@pytest.mark.parametrize(
    "slot",
    [
        param
        for param in every_slot(*ADULT_IDS, "edentulous-14")
        if param.values[0]["kind"] == "periapical" and any(t.startswith("apex:") for t in param.values[0]["shows"])
    ],
)
def test_the_longest_tooth_whose_apex_a_view_owes_fits_the_receptor_as_it_stands(slot):
    """27 mm for front teeth (the canine) and 22.5 mm for back teeth, plus 3 mm at either end."""
    owes_front = any(target.startswith("apex:") and target[6] in "123" for target in slot["shows"])
    longest = FIT["longest_tooth_mm"] if owes_front else FIT["longest_posterior_tooth_mm"]

    assert longest + MARGINS_MM <= upright_mm(slot)


def test_a_canine_would_not_fit_a_level_receptor():
    """So the upright canine views are no matter of taste."""
    level = max(SIZES[size]["short_mm"] for size in (1, 2))

    assert FIT["longest_tooth_mm"] + MARGINS_MM > level
