"""Every published value and every line of guidance names where it comes from, with a grade."""

from __future__ import annotations

import re

import pytest

from tests.published.shared_files import TEMPLATE_IDS, every_text, published, shared

TABLES = ("designations", "roots", "receptors", "series", "projection_criteria", "technique_errors", "dose")
GRADES = ("verified", "computed", "from memory", "common practice", "worked out", "Sources differ")
PROJECTIONS = shared("guidance/projections.json")


def is_graded(source: str) -> bool:
    return any(grade in source for grade in GRADES)


@pytest.mark.parametrize("name", TABLES)
def test_every_source_cited_in_a_table_is_described_there(name):
    table = published(name)
    cited = {found for text in every_text(table) for found in re.findall(r"\bS\d{1,3}\b", text)}

    assert cited <= set(table["sources"])


@pytest.mark.parametrize("name", TABLES)
def test_every_source_described_in_a_table_is_cited_there(name):
    table = published(name)
    cited = {found for text in every_text(table) for found in re.findall(r"\bS\d{1,3}\b", text)}

    assert set(table["sources"]) <= cited


@pytest.mark.parametrize("key", PROJECTIONS)
def test_every_item_of_a_projection_has_a_graded_source(key):
    entry = PROJECTIONS[key]
    sources = entry["sources"]
    single = ("beam_centre", "entry_point", "vertical_deg", "horizontal", "placement")

    assert set(sources) == {*single, "acceptable"}
    assert all(is_graded(sources[item]) and entry[item] for item in single)


@pytest.mark.parametrize("key", PROJECTIONS)
def test_every_acceptability_sentence_has_a_graded_source_of_its_own(key):
    entry = PROJECTIONS[key]

    assert len(entry["acceptable"]) == len(entry["sources"]["acceptable"]) > 0
    assert all(map(is_graded, entry["sources"]["acceptable"]))


def test_every_option_of_a_setting_has_a_graded_source_and_the_default_is_an_option():
    for setting in shared("guidance/criteria.json").values():
        assert is_graded(setting["source"])
        assert all(is_graded(option["source"]) for option in setting["options"])
        assert setting["default"] in [option["value"] for option in setting["options"]]


def test_every_technique_error_has_a_graded_source():
    assert all(is_graded(entry["source"]) for entry in shared("guidance/technique_errors.json").values())


@pytest.mark.parametrize("template_id", TEMPLATE_IDS)
def test_every_template_has_a_graded_source(template_id):
    assert is_graded(shared(f"templates/{template_id}.json")["source"])
