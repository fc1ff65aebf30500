"""Vertical angles of the guidance against published lists for the bisecting technique.

Copied into shared/published/projection_criteria.json: single values from periapical exam cards (low grade;
upper molar also US Army subcourse MD0512), ranges from memory of a radiography textbook and an exam-notes page,
bitewings +10 (a textbook page scan) and +8 (US Army subcourse MD0512). Lower molar ranges differ; the guidance
spans both.
"""

from __future__ import annotations

import pytest

from tests.published.shared_files import TEMPLATE_IDS, published, shared, slots

CRITERIA = published("projection_criteria")
GUIDANCE = shared("guidance/projections.json")
STARTS = {key: value for key, value in CRITERIA["bisecting_start_deg"].items() if key in GUIDANCE}
RANGES = {key: value for key, value in CRITERIA["bisecting_range_deg"].items() if key in GUIDANCE}


@pytest.mark.parametrize(("key", "start"), STARTS.items())
def test_published_single_values_lie_in_the_range_of_the_guidance(key, start):
    low, high = GUIDANCE[key]["vertical_deg"]
    values = start if isinstance(start, list) else [start]

    assert all(low <= value <= high for value in values)


@pytest.mark.parametrize(("key", "published_range"), RANGES.items())
def test_published_ranges_lie_in_the_range_of_the_guidance(key, published_range):
    low, high = GUIDANCE[key]["vertical_deg"]

    assert low <= published_range[0] <= published_range[1] <= high


def test_the_differing_lower_molar_range_is_spanned_too():
    low, high = GUIDANCE["lower-molar"]["vertical_deg"]
    other = CRITERIA["lower_molar_other_range_deg"]["range"]

    assert low <= other[0] <= other[1] <= high


@pytest.mark.parametrize("key", [key for key in RANGES if key != "lower-molar"])
def test_the_guidance_is_no_wider_than_the_published_range_where_sources_agree(key):
    assert GUIDANCE[key]["vertical_deg"] == RANGES[key]


@pytest.mark.parametrize("key", GUIDANCE)
def test_beam_points_down_in_the_upper_jaw_and_up_in_the_lower(key):
    low, high = GUIDANCE[key]["vertical_deg"]

    assert low <= high
    assert high <= 0 if "lower" in key else low > 0


@pytest.mark.parametrize("template_id", TEMPLATE_IDS)
def test_every_slot_has_guidance(template_id):
    assert {slot["projection"] for slot in slots(template_id, required_only=False)} <= set(GUIDANCE)
