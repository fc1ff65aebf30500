"""Shortfalls and their corrections against published tables of technique errors.

Copied into shared/published/technique_errors.json with their grades: dent-ed-online.com on correcting errors,
healthdrip.com on radiographic errors, continuing-education course CE559; plate faults from three papers; motion
blur and cut-off crowns from memory. The wording of the guidance is our own, so the checks ask for its substance.
"""

from __future__ import annotations

import pytest

from app.core.exposures import ShortfallCode
from tests.published.shared_files import published, shared

PUBLISHED = published("technique_errors")
GUIDANCE = shared("guidance/technique_errors.json")
FIELDS = {"name", "look", "cause", "correction", "regions", "source"}

# What the published correction turns on, as a word that ours must have as well.
SUBSTANCE = {
    "overlap": ["through the contacts", "row of teeth"],
    "apex_cut_off": ["deeper", "block"],
    "foreshortened": ["flatter", "angle"],
    "elongated": ["steeper", "angle"],
    "crown_cut_off": ["3 mm"],
    "wrong_region": ["landmark"],
    "cone_cut": ["centred", "ring"],
    "blurred": ["tube", "still"],
    "too_light": ["settings", "skin", "at once"],
    "too_dark": ["settings", "child"],
    "double_exposed": ["apart", "erased"],
    "reversed_receptor": ["side"],
    "bent_receptor": ["holder"],
    "artifact": ["metal", "barrier", "plate"],
    "blank": ["check"],
}


@pytest.mark.parametrize("code", list(ShortfallCode))
def test_every_shortfall_has_its_name_look_cause_and_correction(code):
    entry = GUIDANCE[code.value]

    assert set(entry) == FIELDS
    assert all(entry[field].strip() for field in FIELDS - {"regions"})


def test_the_guidance_speaks_of_no_other_shortfall():
    assert set(GUIDANCE) == {code.value for code in ShortfallCode}


@pytest.mark.parametrize("code", list(ShortfallCode))
def test_every_shortfall_stands_for_a_published_technique_error(code):
    assert code.value in {row["code"] for row in PUBLISHED["errors"]}


def test_published_errors_are_assigned_to_shortfalls_that_exist():
    codes = {row["code"] for row in PUBLISHED["errors"]} - {None}

    assert codes <= {code.value for code in ShortfallCode}


@pytest.mark.parametrize("code", SUBSTANCE)
def test_the_correction_says_what_the_published_one_turns_on(code):
    correction = GUIDANCE[code]["correction"].lower()

    assert [word for word in SUBSTANCE[code] if word not in correction] == []


@pytest.mark.parametrize("code", list(ShortfallCode))
def test_a_correction_is_read_in_two_seconds(code):
    """At most 20 words: people read about 4 to 5 words a second, and the eye skips known ones (own choice)."""
    assert len(GUIDANCE[code.value]["correction"].split()) <= 20


@pytest.mark.parametrize("code", list(ShortfallCode))
def test_additions_for_a_region_name_projections_that_exist(code):
    assert set(GUIDANCE[code.value]["regions"]) <= set(shared("guidance/projections.json"))


def test_tilting_too_steep_shortens_and_too_flat_lengthens():
    """As published, and as the geometry of the bisecting technique has it."""
    assert "steep" in GUIDANCE["foreshortened"]["cause"]
    assert "flat" in GUIDANCE["elongated"]["cause"]
