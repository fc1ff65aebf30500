"""Designations against two outside tables.

Sources, copied into shared/published/designations.json: the HL7 code system
ADAUniversalToothDesignationSystem 1.0.1 (universal numbers; seen for 1-10 and the run 1-32, the letters of
primary teeth from memory) and DICOM context groups 4018 and 4019 as pydicom 3.0.2 holds them (SNOMED CT codes
and names). The quadrant notation is common practice without a source.
"""

from __future__ import annotations

from typing import Any

import pytest

from app.core.numbering import Numbering, shown
from app.core.teeth import PERMANENT, PRIMARY, arch, is_primary, ordinal, quadrant
from tests.published.shared_files import published

TABLE = published("designations")
ROWS: list[dict[str, str]] = TABLE["teeth"]


def by_tooth(row: dict[str, Any]) -> str:
    return row["iso3950"]


def test_the_program_knows_exactly_the_52_teeth_of_the_table():
    teeth = [row["iso3950"] for row in ROWS]

    assert len(teeth) == 52
    assert set(teeth) == set(PERMANENT) | set(PRIMARY)


@pytest.mark.parametrize("row", ROWS, ids=by_tooth)
def test_universal_designation_is_that_of_the_table(row):
    assert shown(row["iso3950"], Numbering.UNIVERSAL) == row["universal"]


@pytest.mark.parametrize("row", ROWS, ids=by_tooth)
def test_quadrant_designation_is_that_of_the_table(row):
    assert shown(row["iso3950"], Numbering.QUADRANT) == row["quadrant"]


@pytest.mark.parametrize(("tooth", "universal"), TABLE["verified_by_name"]["permanent"].items())
def test_universal_numbers_seen_in_the_hl7_code_system(tooth, universal):
    assert shown(tooth, Numbering.UNIVERSAL) == universal


@pytest.mark.parametrize("row", ROWS, ids=by_tooth)
def test_universal_designation_follows_the_published_formula(row):
    """The formulae were checked to be a bijection onto 1-32 and A-T."""
    tooth, i = row["iso3950"], int(row["iso3950"][1])
    primary = is_primary(tooth)
    first, sign, _ = TABLE["universal_formulae"]["primary" if primary else "permanent"][tooth[0]].split()
    index = int(first) + i if sign == "+" else int(first) - i
    expected = chr(ord("A") + index - 1) if primary else str(index)

    assert shown(tooth, Numbering.UNIVERSAL) == expected


@pytest.mark.parametrize("row", ROWS, ids=by_tooth)
def test_jaw_side_and_kind_agree_with_the_name_in_the_dicom_context_group(row):
    """DICOM CID 4018 and 4019. Only upper permanent names carry the word Permanent, so that word is not asked."""
    tooth, meaning = row["iso3950"], row["meaning"]

    assert ("maxillary" in meaning.lower()) == (arch(tooth) == "upper")
    assert (" right " in meaning) == (quadrant(tooth) in (1, 4))
    assert meaning.startswith("Deciduous") == is_primary(tooth)


@pytest.mark.parametrize("row", ROWS, ids=by_tooth)
def test_count_from_the_midline_agrees_with_the_name_in_the_dicom_context_group(row):
    """DICOM CID 4018 and 4019; the name of 32 lacks the word incisor there, so only its first word is asked."""
    front = ["central", "lateral", "canine"]
    molars = ["first molar", "second molar", "third molar"]
    names = (
        [*front, *molars] if is_primary(row["iso3950"]) else [*front, "first premolar", "second premolar", *molars]
    )

    assert names[ordinal(row["iso3950"]) - 1] in row["meaning"]


def test_no_two_teeth_share_a_code_or_a_designation():
    for column in ("iso3950", "universal", "quadrant", "snomed_ct"):
        assert len({row[column] for row in ROWS}) == len(ROWS)
