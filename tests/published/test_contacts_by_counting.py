"""Numbers of contacts, counted: 15 in each arch of a full permanent dentition, 9 in each of a primary one.

Source, copied into shared/published/series.json: counting the neighbours along an arch; 7 in each quadrant and
one at each midline.
"""

from __future__ import annotations

import pytest

from app.core import targets
from app.core.dentition import Dentition, asked_targets
from app.core.teeth import arch, quadrant
from tests.published.shared_files import published

COUNTS = published("series")["contacts"]


def contacts(kind: str) -> list[tuple[str, ...]]:
    """Teeth of each contact that a full dentition of this kind asks for."""
    return [targets.teeth(t) for t in asked_targets(Dentition(kind=kind)) if targets.kind(t) == "contact"]


@pytest.mark.parametrize("kind", ["permanent", "primary"])
@pytest.mark.parametrize("jaw", ["upper", "lower"])
def test_contacts_per_arch(kind, jaw):
    assert sum(arch(pair[0]) == jaw for pair in contacts(kind)) == COUNTS[f"{kind}_per_arch"]


@pytest.mark.parametrize("kind", ["permanent", "primary"])
def test_contacts_of_the_mouth(kind):
    assert len(contacts(kind)) == COUNTS[kind]


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_seven_contacts_within_each_permanent_quadrant(number):
    within = [pair for pair in contacts("permanent") if {quadrant(tooth) for tooth in pair} == {number}]

    assert len(within) == COUNTS["permanent_per_quadrant"] == 7


def test_one_midline_contact_per_arch():
    across = [pair for pair in contacts("permanent") if len({quadrant(tooth) for tooth in pair}) == 2]

    assert across == [("11", "21"), ("41", "31")]


@pytest.mark.parametrize("kind", ["permanent", "primary"])
def test_the_distal_surface_of_the_last_tooth_of_each_quadrant_is_asked_for_besides(kind):
    """It is not a contact, but is normally required to be seen."""
    last = {"permanent": {"18", "28", "38", "48"}, "primary": {"55", "65", "75", "85"}}[kind]
    asked = asked_targets(Dentition(kind=kind))

    assert {target for target in asked if targets.kind(target) == "distal"} == {f"distal:{t}" for t in last}
