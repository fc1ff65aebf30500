"""What each view shows against the published lists of target teeth.

Source, copied into shared/published/projection_criteria.json: study cards on periapical and bitewing views (low
grade, but agreeing with the clinic manual and the evaluation-criteria pages, which have files of their own here);
orientation and receptor from memory.
"""

from __future__ import annotations

import pytest

from tests.published.shared_files import ADULT_IDS, mirrored, published, slots

PROJECTIONS = published("projection_criteria")["projections"]

CASES = [
    pytest.param(slot, PROJECTIONS[slot["projection"]], id=f"{template_id}:{slot['id']}")
    for template_id in (*ADULT_IDS, "bitewings-4")
    for slot in slots(template_id)
    if slot["projection"] in PROJECTIONS
]


def on_the_side_of(slot: dict, targets: list[str]) -> set[str]:
    """The right-sided targets of the table, mirrored for a view of the left."""
    left = "-L-" in slot["id"] or slot["id"].startswith(("UL", "LL"))
    return {mirrored(target) if left else target for target in targets}


@pytest.mark.parametrize(("slot", "projection"), CASES)
def test_view_shows_every_target_of_the_published_list(slot, projection):
    assert on_the_side_of(slot, projection["must_show"]) <= set(slot["shows"])


@pytest.mark.parametrize(("slot", "projection"), CASES)
def test_view_does_not_promise_what_the_published_list_gives_to_another(slot, projection):
    assert not on_the_side_of(slot, projection.get("not_promised", [])) & set(slot["shows"])


@pytest.mark.parametrize(("slot", "projection"), CASES)
def test_receptor_stands_as_published(slot, projection):
    assert slot["receptor"]["orientation"] == projection["orientation"]


@pytest.mark.parametrize("key", PROJECTIONS)
def test_every_published_view_stands_in_an_adult_template(key):
    assert key in {slot["projection"] for template_id in ADULT_IDS for slot in slots(template_id)}
