"""The coverage chart: one mark for each target, told by shape and words, mirrored, and free of clashes."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings

from app.core.coverage import TargetState
from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.numbering import Numbering
from app.core.targets import Target
from app.core.teeth import PERMANENT, Tooth
from app.web.chart_drawing.chart import Chart, coverage_chart
from tests.strategies import dentitions


def drawn(dentition: Dentition | None = None, state: TargetState = "covered", **more: object) -> Chart:
    """A chart in which every target stands alike."""
    return coverage_chart(dentition or Dentition(), lambda _target: state, **more)  # type: ignore[arg-type]


def across_the_midline(tooth: Tooth) -> Tooth:
    """The tooth of the other side."""
    other = {"1": "2", "2": "1", "3": "4", "4": "3", "5": "6", "6": "5", "7": "8", "8": "7"}
    return other[tooth[0]] + tooth[1]


def mirrored(target: Target) -> Target:
    """The target of the other side; the teeth of a contact change places to stand in arch order."""
    kind, teeth, *root = target.split(":")
    turned = "-".join(reversed([across_the_midline(each) for each in teeth.split("-")]))
    return Target(":".join([kind, turned, *root]))


@settings(max_examples=60, deadline=None)
@given(dentitions())
def test_every_target_asked_for_has_exactly_one_mark(dentition: Dentition) -> None:
    """Whatever the dentition, and nothing else has a mark."""
    chart = drawn(dentition)

    assert Counter(mark.target for mark in chart.marks) == Counter(asked_targets(dentition))


@settings(max_examples=60, deadline=None)
@given(dentitions())
def test_no_two_marks_lie_on_the_same_spot(dentition: Dentition) -> None:
    chart = drawn(dentition)

    middles = Counter((mark.x, mark.y) for mark in chart.marks)
    assert [spot for spot, count in middles.items() if count > 1] == []


@settings(max_examples=40, deadline=None)
@given(dentitions())
def test_every_mark_lies_within_the_drawing(dentition: Dentition) -> None:
    chart = drawn(dentition)

    for mark in chart.marks:
        for number in re.findall(r"[MLQC ]?(-?[\d.]+) (-?[\d.]+)", mark.path):
            x, y = float(number[0]), float(number[1])
            assert chart.left <= x <= chart.left + chart.width
            assert chart.top <= y <= chart.top + chart.height


def test_the_patients_right_stands_on_the_viewers_left() -> None:
    at = {mark.target: mark for mark in drawn().marks}

    assert (
        at[Target("crown:18")].x < at[Target("crown:11")].x < at[Target("crown:21")].x < at[Target("crown:28")].x
    )


def test_the_upper_jaw_stands_above_with_its_roots_up() -> None:
    at = {mark.target: mark for mark in drawn().marks}

    assert (
        at[Target("apex:13:R")].y < at[Target("crown:13")].y < at[Target("crown:43")].y < at[Target("apex:43:R")].y
    )


def test_both_sides_are_mirror_images() -> None:
    """A full dentition is drawn the same on both sides."""
    at = {mark.target: mark for mark in drawn().marks}

    for target, mark in at.items():
        twin = at[mirrored(target)]
        assert (twin.x, twin.y) == pytest.approx((-mark.x, mark.y), abs=0.11), target


def test_mesial_roots_stand_towards_the_midline() -> None:
    at = {mark.target: abs(mark.x) for mark in drawn().marks}

    for tooth in ("16", "26"):
        assert at[Target(f"apex:{tooth}:MB")] < at[Target(f"apex:{tooth}:P")] < at[Target(f"apex:{tooth}:DB")]
    for tooth in ("36", "46"):
        assert at[Target(f"apex:{tooth}:M")] < at[Target(f"apex:{tooth}:D")]


def test_a_contact_stands_between_its_teeth() -> None:
    at = {mark.target: mark for mark in drawn().marks}

    for target, mark in at.items():
        if mark.kind == "contact":
            first, second = target.removeprefix("contact:").split("-")
            assert at[Target(f"crown:{first}")].x < mark.x < at[Target(f"crown:{second}")].x


def test_charted_roots_are_drawn_as_charted() -> None:
    """A lower molar with an extra lingual root has three apices."""
    chart = drawn(Dentition(roots={"46": ("M", "D", "L")}))

    assert [m.target for m in chart.marks if m.kind == "apex" and ":46:" in m.target] == [
        "apex:46:M",
        "apex:46:D",
        "apex:46:L",
    ]


def test_each_state_of_a_tooth_is_drawn_in_its_own_way() -> None:
    chart = drawn(
        Dentition(
            states={
                "16": ToothState.IMPLANT,
                "25": ToothState.PONTIC,
                "26": ToothState.ROOT_REMNANT,
                "38": ToothState.UNERUPTED,
                "36": ToothState.MISSING,
            }
        )
    )

    bodies = {body.kind for body in chart.bodies}
    assert {"fixture", "broken", "follicle", "root", "root ghost"} <= bodies
    marks = {mark.target for mark in chart.marks}
    assert {"apex:16:R", "ridge:25", "crown:25", "apex:26:P", "crown:38", "ridge:36"} <= marks
    assert marks.isdisjoint({"crown:26", "crown:36", "apex:25:R"})


def test_a_successor_lies_in_the_bone_under_its_primary_tooth() -> None:
    states = {"54": ToothState.PRESENT, "14": ToothState.UNERUPTED, "74": ToothState.PRESENT}
    chart = drawn(Dentition(kind="mixed", states={**states, "34": ToothState.UNERUPTED}))

    at = {mark.target: mark for mark in chart.marks}
    assert at[Target("crown:14")].y < at[Target("apex:54:P")].y < at[Target("crown:54")].y
    assert at[Target("crown:34")].y > at[Target("apex:74:D")].y > at[Target("crown:74")].y


def test_a_closed_space_has_no_column_and_says_which_tooth_is_gone() -> None:
    chart = drawn(Dentition(states={"14": ToothState.MISSING}, closed_spaces=(("15", "13"),)))

    full = {mark.target: mark.x for mark in drawn().marks}
    at = {mark.target: mark.x for mark in chart.marks}
    assert at[Target("crown:13")] - at[Target("crown:15")] < full[Target("crown:13")] - full[Target("crown:15")]
    assert [each.text for each in chart.designations if "closed" in each.on] == ["14"]


@pytest.mark.parametrize(("numbering", "shown"), [("iso3950", "16"), ("universal", "3"), ("quadrant", "UR6")])
def test_the_teeth_bear_the_designation_asked_for(numbering: str, shown: str) -> None:
    chart = drawn(numbering=Numbering(numbering))

    assert next(each.text for each in chart.designations if each.tooth == "16") == shown


def test_a_lost_contact_is_called_out_by_its_teeth() -> None:
    chart = coverage_chart(Dentition(), lambda t: "gap" if t == "contact:17-16" else "covered")

    (leader,) = chart.leaders
    assert leader.text == "17–16"
    assert len(leader.lines) == 1


def test_the_lost_apices_of_one_tooth_share_one_label() -> None:
    chart = coverage_chart(Dentition(), lambda t: "gap" if t.startswith("apex:16:") else "covered")

    (leader,) = chart.leaders
    assert leader.text == "16 apices"
    assert len(leader.lines) == 3


def test_labels_do_not_lie_over_each_other() -> None:
    lost = {Target(f"apex:{tooth}:R") for tooth in ("13", "12", "11", "21", "22", "23", "15", "25")}
    chart = coverage_chart(Dentition(), lambda t: "gap" if t in lost else "covered")

    row = sorted(chart.leaders, key=lambda each: each.x)
    assert len(row) == len(lost)
    for left, right in pairwise(row):
        apart = right.x - left.x >= (left.width + right.width) / 2 or abs(right.y - left.y) > 20
        assert apart, (left.text, right.text)


def test_a_series_not_yet_taken_has_no_thicket_of_labels() -> None:
    assert drawn(state="gap").leaders == ()


def test_where_views_are_missing_too_what_an_image_lost_is_still_called_out() -> None:
    chart = drawn(state="gap", lost=[Target("contact:17-16")])

    assert [leader.text for leader in chart.leaders] == ["17–16"]


def test_a_mouth_without_teeth_is_a_row_of_ridges() -> None:
    chart = drawn(Dentition(states=dict.fromkeys(PERMANENT, ToothState.MISSING)))

    assert {mark.kind for mark in chart.marks} == {"ridge"}
    assert len(chart.marks) == 32


def test_an_empty_chart_is_drawn_without_marks() -> None:
    chart = drawn(Dentition(kind="mixed", states={}))

    assert (chart.marks, len(chart.jaws)) == ((), 2)
