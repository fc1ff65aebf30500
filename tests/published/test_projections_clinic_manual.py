"""The built-in adult series against the University of Maryland dental clinic manual, rules for a complete series.

Copied into shared/published/projection_criteria.json (verified): every contact at least once and not overlapped;
all alveolar bone at least once, teeth or not; the third-molar area even where the tooth is absent; the first molar
also on the premolar view; what each bitewing shows; usually at least 3 mm of bone beyond an apex.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.published.shared_files import ADULT_IDS, published, shared, shown_by_required, slots

UPPER = [*(f"1{n}" for n in range(8, 0, -1)), *(f"2{n}" for n in range(1, 9))]
LOWER = [*(f"4{n}" for n in range(8, 0, -1)), *(f"3{n}" for n in range(1, 9))]
CONTACTS = [f"contact:{a}-{b}" for row in (UPPER, LOWER) for a, b in pairwise(row)]


def is_posterior_contact(contact: str) -> bool:
    """Between two premolars or molars."""
    return all(tooth[1] >= "4" for tooth in contact.removeprefix("contact:").split("-"))


@pytest.mark.parametrize("template_id", ADULT_IDS)
def test_every_contact_is_shown_at_least_once(template_id):
    assert set(CONTACTS) <= shown_by_required(template_id)


@pytest.mark.parametrize("template_id", ADULT_IDS)
@pytest.mark.parametrize("kind", ["bitewing", "periapical"])
def test_every_posterior_contact_stands_on_a_bitewing_and_on_a_periapical(template_id, kind):
    posterior = set(filter(is_posterior_contact, CONTACTS))

    assert posterior <= shown_by_required(template_id, kind)


@pytest.mark.parametrize("template_id", [*ADULT_IDS, "edentulous-14"])
def test_all_alveolar_bone_is_shown_at_least_once_with_or_without_teeth(template_id):
    assert {f"ridge:{tooth}" for tooth in UPPER + LOWER} <= shown_by_required(template_id)


@pytest.mark.parametrize("template_id", [*ADULT_IDS, "edentulous-14"])
@pytest.mark.parametrize(
    ("slot_id", "tooth"), [("UR-molar", "18"), ("UL-molar", "28"), ("LL-molar", "38"), ("LR-molar", "48")]
)
def test_molar_view_owes_the_third_molar_region_even_where_the_tooth_is_absent(template_id, slot_id, tooth):
    (slot,) = (slot for slot in slots(template_id) if slot["id"] == slot_id)

    assert {f"ridge:{tooth}", f"crown:{tooth}", f"distal:{tooth}"} <= set(slot["shows"])


@pytest.mark.parametrize("template_id", ADULT_IDS)
@pytest.mark.parametrize(
    ("slot_id", "tooth"),
    [("UR-premolar", "16"), ("UL-premolar", "26"), ("LL-premolar", "36"), ("LR-premolar", "46")],
)
def test_the_first_molar_also_appears_on_the_premolar_view(template_id, slot_id, tooth):
    (slot,) = (slot for slot in slots(template_id) if slot["id"] == slot_id)

    assert f"crown:{tooth}" in slot["shows"]


def test_three_mm_of_bone_is_an_option_of_the_setting_on_which_sources_differ():
    rows = published("projection_criteria")["acceptability"]
    asked_by_manual = [
        row["least_mm"] for row in rows if row["key"] == "bone_beyond_apex" and "S33" in row["grade"]
    ]
    options = [option["value"] for option in shared("guidance/criteria.json")["bone_beyond_apex_mm"]["options"]]

    assert asked_by_manual == [3]
    assert 3 in options
