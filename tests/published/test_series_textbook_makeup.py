"""Make-up of the built-in series against published counts.

Sources, copied into shared/published/series.json with their grades: US Army subcourse MD0512 and the Navy dental
training manual 14275 (14 periapicals), a university technique manual (16 + 4), a published series of 200 children
aged 9-11 (10 + 2), imaging cards (no bitewings without teeth); the primary set and the vertical one from memory.
"""

from __future__ import annotations

import pytest

from tests.published.shared_files import TEMPLATE_IDS, published, shared, slots

SERIES = published("series")
BUILT_IN = [row for row in SERIES["series"] if row["template"]]


def number(template_id: str, kind: str) -> int:
    return sum(slot["kind"] == kind for slot in slots(template_id))


def is_posterior_view(slot: dict) -> bool:
    """Whether most crowns of the view are premolars and molars (primary molars too)."""
    crowns = [target[-2:] for target in slot["shows"] if target.startswith("crown:")]
    back = [tooth for tooth in crowns if tooth[1] >= "4"]
    return len(back) > len(crowns) / 2


@pytest.mark.parametrize("row", BUILT_IN, ids=lambda row: row["template"])
def test_number_of_images(row):
    assert len(slots(row["template"])) == row["images"]


@pytest.mark.parametrize("row", BUILT_IN, ids=lambda row: row["template"])
@pytest.mark.parametrize("kind", ["periapical", "bitewing", "occlusal"])
def test_number_of_each_kind(row, kind):
    assert number(row["template"], kind) == row[f"{kind}s"]


@pytest.mark.parametrize("row", BUILT_IN, ids=lambda row: row["template"])
def test_split_of_the_periapicals_by_region(row):
    periapicals = [slot for slot in slots(row["template"]) if slot["kind"] == "periapical"]
    back = sum(map(is_posterior_view, periapicals))

    assert (len(periapicals) - back, back) == (row["anterior_periapicals"], row["posterior_periapicals"])


def test_the_vertical_set_is_four_back_and_three_front_bitewings_all_upright():
    bitewings = [slot for slot in slots("adult-21-vertical") if slot["kind"] == "bitewing"]

    assert sum(map(is_posterior_view, bitewings)) == 4
    assert {slot["receptor"]["orientation"] for slot in bitewings} == {"portrait"}


@pytest.mark.parametrize("template_id", ["adult-18", "adult-20", "edentulous-14"])
def test_an_adult_series_lies_in_the_textbook_range(template_id):
    """14 to 20 images (summary of a radiography textbook); the set with seven vertical bitewings exceeds it."""
    low, high = SERIES["range"]["low"], SERIES["range"]["high"]

    assert low <= len(slots(template_id)) <= high


@pytest.mark.parametrize("template_id", ["adult-18", "adult-20", "adult-21-vertical", "mixed-12"])
def test_slots_stand_in_the_published_exposure_order(template_id):
    """Bitewings, then front, then back periapicals (a dental assistants' association question, low grade)."""

    def stage(slot: dict) -> int:
        return 0 if slot["kind"] == "bitewing" else 2 if is_posterior_view(slot) else 1

    stages = [stage(slot) for slot in slots(template_id)]

    assert stages == sorted(stages)


@pytest.mark.parametrize("template_id", TEMPLATE_IDS)
def test_supplementary_projections_stand_after_the_series(template_id):
    required = [slot["required"] for slot in slots(template_id, required_only=False)]

    assert required == sorted(required, reverse=True)


@pytest.mark.parametrize("template_id", TEMPLATE_IDS)
def test_every_template_names_the_source_of_its_makeup_with_a_grade(template_id):
    source = shared(f"templates/{template_id}.json")["source"]

    assert "verified" in source or "from memory" in source
