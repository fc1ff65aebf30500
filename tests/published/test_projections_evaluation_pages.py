"""The built-in adult series against two evaluation-criteria pages, canine and molar periapical (geemboomba.com).

Copied into shared/published/projection_criteria.json (verified, copies): an upper canine view owes the whole
canine, its mesial contact and the distal half of the lateral; a lower one the canine with both contacts and the
whole lateral; mesial and distal of each tooth stand on at least one image; at least 2 mm of bone beyond an apex.
"""

from __future__ import annotations

import pytest

from tests.published.shared_files import ADULT_IDS, published, shared, shown_by_required, slots

CRITERIA = shared("guidance/criteria.json")
GUIDANCE = shared("guidance/projections.json")
UPPER = [*(f"1{n}" for n in range(8, 0, -1)), *(f"2{n}" for n in range(1, 9))]
LOWER = [*(f"4{n}" for n in range(8, 0, -1)), *(f"3{n}" for n in range(1, 9))]


def shows(template_id: str, slot_id: str) -> set[str]:
    (slot,) = (slot for slot in slots(template_id) if slot["id"] == slot_id)
    return set(slot["shows"])


@pytest.mark.parametrize("template_id", ADULT_IDS)
@pytest.mark.parametrize(
    ("slot_id", "owed"),
    [
        ("UR-canine", {"crown:13", "apex:13:*", "contact:13-12"}),
        ("UL-canine", {"crown:23", "apex:23:*", "contact:22-23"}),
    ],
)
def test_upper_canine_view_owes_the_canine_and_its_mesial_contact(template_id, slot_id, owed):
    assert owed <= shows(template_id, slot_id)


@pytest.mark.parametrize("template_id", ADULT_IDS)
@pytest.mark.parametrize(("slot_id", "behind"), [("UR-canine", "contact:14-13"), ("UL-canine", "contact:23-24")])
def test_the_contact_behind_the_upper_canine_is_left_to_the_premolar_view(template_id, slot_id, behind):
    assert behind not in shows(template_id, slot_id)
    assert behind in shows(template_id, slot_id.replace("canine", "premolar"))


@pytest.mark.parametrize("template_id", ADULT_IDS)
@pytest.mark.parametrize(
    ("slot_id", "owed"),
    [
        ("LR-canine", {"crown:43", "apex:43:*", "crown:42", "apex:42:*", "contact:44-43", "contact:43-42"}),
        ("LL-canine", {"crown:33", "apex:33:*", "crown:32", "apex:32:*", "contact:33-34", "contact:32-33"}),
    ],
)
def test_lower_canine_view_owes_both_contacts_and_the_whole_lateral(template_id, slot_id, owed):
    assert owed <= shows(template_id, slot_id)


def test_the_upper_canine_view_owes_half_the_lateral_unless_the_practice_asks_for_all_of_it():
    setting = CRITERIA["upper_canine_lateral"]
    adds = {option["value"]: option["adds"] for option in setting["options"]}

    assert setting["default"] == "distal_half"
    assert adds["distal_half"] == {}
    assert adds["whole"] == {"13": ["crown:12", "apex:12:*"], "23": ["crown:22", "apex:22:*"]}


@pytest.mark.parametrize("template_id", ADULT_IDS)
def test_mesial_and_distal_of_each_tooth_stand_on_at_least_one_image(template_id):
    """Each surface belongs to a contact; the last tooth of a quadrant has its distal surface to itself."""
    covered = shown_by_required(template_id)
    for row in (UPPER, LOWER):
        for index, tooth in enumerate(row):
            right = f"contact:{row[index - 1]}-{tooth}" if index else f"distal:{tooth}"
            left = f"contact:{tooth}-{row[index + 1]}" if index < len(row) - 1 else f"distal:{tooth}"

            assert {right, left} <= covered


def test_two_mm_of_bone_beyond_an_apex_is_the_default():
    rows = published("projection_criteria")["acceptability"]
    asked = {row["least_mm"] for row in rows if row["key"] == "bone_beyond_apex" and "S34" in row["grade"]}

    assert asked == {CRITERIA["bone_beyond_apex_mm"]["default"]} == {2}


@pytest.mark.parametrize("template_id", [*ADULT_IDS, "edentulous-14"])
def test_every_periapical_says_how_much_bone_beyond_an_apex_makes_it_acceptable(template_id):
    setting = CRITERIA["bone_beyond_apex_mm"]
    (sentence,) = (option["sentence"] for option in setting["options"] if option["value"] == setting["default"])
    for slot in slots(template_id, required_only=False):
        if slot["kind"] == "periapical":
            assert sentence in GUIDANCE[slot["projection"]]["acceptable"], slot["id"]
