"""Roots against standard dental anatomy.

Source, copied into shared/published/roots.json with its grades: standard anatomy from memory, of which the
one root of the upper second premolar (a dental anatomy page after Wheeler), three roots of the upper first
molar and two of the lower (Navy dental training manual 14275, a page on lower molars) were seen in print.
Apex counts are counted from that table.
"""

from __future__ import annotations

import pytest

from app.core import targets
from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.teeth import PERMANENT, PRIMARY, ROOT_NAMES, arch, is_primary, ordinal, usual_roots
from tests.published.shared_files import published

ROOTS = published("roots")
COUNTS = ROOTS["apex_counts"]
WITHOUT_THIRD_MOLARS = dict.fromkeys(("18", "28", "38", "48"), ToothState.MISSING)


def apices(dentition: Dentition, jaw: str | None = None) -> int:
    """Apices asked for, of one jaw or of both."""
    found = [target for target in asked_targets(dentition) if targets.kind(target) == "apex"]
    return sum(jaw in (None, arch(targets.teeth(target)[0])) for target in found)


@pytest.mark.parametrize("tooth", PERMANENT + PRIMARY)
def test_usual_roots_are_those_of_the_table(tooth):
    usual = ROOTS["usual"]["primary" if is_primary(tooth) else "permanent"]

    assert list(usual_roots(tooth)) == usual[arch(tooth)][str(ordinal(tooth))]["roots"]


def test_root_codes_are_those_of_the_table():
    assert set(ROOT_NAMES) == set(ROOTS["root_names"])


def test_a_full_permanent_dentition_has_52_apices():
    assert apices(Dentition()) == COUNTS["permanent_with_third_molars"] == 52


@pytest.mark.parametrize(
    ("jaw", "count"),
    [
        (None, "permanent_without_third_molars"),
        ("upper", "permanent_without_third_molars_upper"),
        ("lower", "permanent_without_third_molars_lower"),
    ],
)
def test_28_teeth_have_42_apices_24_above_and_18_below(jaw, count):
    assert apices(Dentition(states=WITHOUT_THIRD_MOLARS), jaw) == COUNTS[count]


@pytest.mark.parametrize(
    ("jaw", "count"), [(None, "primary"), ("upper", "primary_upper"), ("lower", "primary_lower")]
)
def test_a_primary_dentition_has_32_apices_18_above_and_14_below(jaw, count):
    assert apices(Dentition(kind="primary"), jaw) == COUNTS[count]


@pytest.mark.parametrize(
    ("tooth", "roots"),
    [
        ("14", ("R",)),
        ("14", ("MB", "DB", "P")),
        ("15", ("B", "P")),
        ("36", ("M", "D", "L")),
        ("45", ("M", "D")),
        ("43", ("B", "L")),
    ],
)
def test_published_variants_can_be_charted_and_are_then_asked_for(tooth, roots):
    """One- and three-rooted premolars, the extra distolingual root, the two-rooted canine."""
    asked = asked_targets(Dentition(roots={tooth: roots}))

    assert {target for target in asked if target.startswith(f"apex:{tooth}:")} == {
        f"apex:{tooth}:{code}" for code in roots
    }
