"""A series whose every image is good is complete for the dentitions that its template is made for.

The claim behind it is published: a complete series shows every tooth, contact and stretch of bone at least once
(University of Maryland dental clinic manual; evaluation-criteria pages). Here it is put to the audit itself, for
full mouths and for any mixture of states.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.coverage import audit
from app.core.dentition import Dentition, ToothState
from app.core.exposures import Exposure
from app.core.series import Policy, Series
from app.core.teeth import PERMANENT, PRIMARY
from app.exchange.template_file import read_template
from tests.published.shared_files import ADULT_IDS, shared

TEMPLATES = {
    template_id: read_template(shared(f"templates/{template_id}.json"))
    for template_id in (*ADULT_IDS, "mixed-12", "primary-8", "edentulous-14", "bitewings-2", "bitewings-4")
}
ANY_STATE = st.sampled_from(list(ToothState))
NATURAL = st.sampled_from(
    [ToothState.PRESENT, ToothState.UNERUPTED, ToothState.MISSING, ToothState.ROOT_REMNANT, ToothState.IMPLANT]
)


def gaps_of_a_good_series(template_id: str, dentition: Dentition, policy: Policy | None = None) -> list[str]:
    """What is still asked for when every required slot has one good, reviewed image."""
    template = TEMPLATES[template_id]
    exposures = tuple(
        Exposure(id=slot.id, slot=slot.id, reviewed=True) for slot in template.slots if slot.required
    )
    series = Series(template=template, dentition=dentition, exposures=exposures, policy=policy or Policy())
    return [gap.target for gap in audit(series).gaps]


@pytest.mark.parametrize("policy", ["any", "bitewing"])
@pytest.mark.parametrize("template_id", [*ADULT_IDS, "edentulous-14"])
def test_full_adult_dentition(template_id, policy):
    assert gaps_of_a_good_series(template_id, Dentition(), Policy(posterior_contacts=policy)) == []


@pytest.mark.parametrize("template_id", [*ADULT_IDS, "edentulous-14"])
def test_mouth_without_teeth(template_id):
    no_teeth = Dentition(states=dict.fromkeys(PERMANENT, ToothState.MISSING))

    assert gaps_of_a_good_series(template_id, no_teeth) == []


def test_full_primary_dentition():
    assert gaps_of_a_good_series("primary-8", Dentition(kind="primary")) == []


@given(st.dictionaries(st.sampled_from(PERMANENT), ANY_STATE), st.sampled_from([*ADULT_IDS, "edentulous-14"]))
@settings(max_examples=60, deadline=None)
def test_any_adult_dentition(states, template_id):
    assert gaps_of_a_good_series(template_id, Dentition(states=states)) == []


@given(st.dictionaries(st.sampled_from(PRIMARY), NATURAL))
@settings(max_examples=40, deadline=None)
def test_any_primary_dentition(states):
    assert gaps_of_a_good_series("primary-8", Dentition(kind="primary", states=states)) == []


@st.composite
def children(draw: st.DrawFn) -> Dentition:
    """A child at any stage: at each place the primary tooth, its successor, both, or neither; no third molars."""
    states: dict[str, ToothState] = {}
    for quadrant in "1234":
        for count in "12345":
            successor, primary = quadrant + count, str(int(quadrant) + 4) + count
            for tooth in draw(st.sampled_from([(primary, successor), (successor,), (primary,)])):
                states[tooth] = draw(NATURAL)
        for count in "67":
            states[quadrant + count] = draw(NATURAL)
    return Dentition(kind="mixed", states=states)


@given(children())
@settings(max_examples=60, deadline=None)
def test_any_child_without_third_molars(dentition):
    assert gaps_of_a_good_series("mixed-12", dentition) == []


SPACES = [
    (first, last)
    for row in (PERMANENT[:16], PERMANENT[16:])
    for gap in (2, 3)
    for first, last in zip(row, row[gap:], strict=False)
]


@pytest.mark.parametrize("template_id", ADULT_IDS)
@pytest.mark.parametrize("space", SPACES, ids="-".join)
def test_any_space_closed_over_one_or_two_lost_teeth(template_id, space):
    row = PERMANENT[:16] if space[0] in PERMANENT[:16] else PERMANENT[16:]
    between = row[row.index(space[0]) + 1 : row.index(space[1])]
    dentition = Dentition(states=dict.fromkeys(between, ToothState.MISSING), closed_spaces=(space,))

    assert gaps_of_a_good_series(template_id, dentition) == []


@pytest.mark.parametrize("template_id", ["bitewings-4", "bitewings-2"])
def test_bitewings_alone_leave_every_apex_of_a_full_dentition_open(template_id):
    """So the completeness above is no accident of an audit that lets everything pass."""
    gaps = gaps_of_a_good_series(template_id, Dentition())

    assert sum(target.startswith("apex:") for target in gaps) == 52


@pytest.mark.parametrize("template_id", ADULT_IDS)
def test_a_series_short_of_any_one_periapical_is_not_complete(template_id):
    """Each periapical owes something that no other view shows."""
    template = TEMPLATES[template_id]
    for left_out in template.required_slots:
        if left_out.kind != "periapical":
            continue
        exposures = tuple(
            Exposure(id=slot.id, slot=slot.id, reviewed=True)
            for slot in template.required_slots
            if slot is not left_out
        )

        assert audit(Series(template=template, exposures=exposures)).gaps, left_out.id
