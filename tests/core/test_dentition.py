"""What a dentition asks for."""

from __future__ import annotations

import pytest

from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.errors import InputError
from app.core.targets import kind, teeth
from app.core.teeth import PERMANENT, PRIMARY


def asked(**chart: object) -> set[str]:
    return set(asked_targets(Dentition(**chart)))  # type: ignore[arg-type]


def of_tooth(targets: set[str], tooth: str) -> set[str]:
    return {target for target in targets if tooth in teeth(target)}  # type: ignore[arg-type]


def count(targets: set[str], which: str) -> int:
    return sum(kind(target) == which for target in targets)  # type: ignore[arg-type]


def test_a_full_permanent_dentition_asks_for_32_crowns_52_apices_30_contacts_4_distals() -> None:
    """Counts worked out from usual anatomy: 15 contacts an arch, one last tooth a quadrant."""
    full = asked()

    assert {which: count(full, which) for which in ("crown", "apex", "contact", "distal", "ridge")} == {
        "crown": 32,
        "apex": 52,
        "contact": 30,
        "distal": 4,
        "ridge": 0,
    }


def test_a_full_primary_dentition_asks_for_20_crowns_32_apices_18_contacts() -> None:
    full = asked(kind="primary")

    assert (count(full, "crown"), count(full, "apex"), count(full, "contact")) == (20, 32, 18)
    assert {target for target in full if kind(target) == "distal"} == {  # type: ignore[arg-type]
        "distal:55",
        "distal:65",
        "distal:75",
        "distal:85",
    }


@pytest.mark.parametrize(
    ("state", "own", "with_contacts"),
    [
        ("present", {"crown:36", "apex:36:M", "apex:36:D"}, True),
        ("implant", {"crown:36", "apex:36:R"}, True),
        ("pontic", {"crown:36", "ridge:36"}, True),
        ("root_remnant", {"apex:36:M", "apex:36:D"}, False),
        ("unerupted", {"crown:36", "apex:36:M", "apex:36:D"}, False),
        ("missing", {"ridge:36"}, False),
    ],
)
def test_each_state_asks_for_its_row_of_the_table(state: str, own: set[str], with_contacts: bool) -> None:
    chart = asked(states={"36": ToothState(state)})

    contacts = {"contact:36-37", "contact:35-36"} if with_contacts else set()
    assert of_tooth(chart, "36") == own | contacts


def test_the_last_tooth_with_contacts_owes_its_distal_even_behind_an_unerupted_one() -> None:
    """An unerupted third molar has no contact, so the second molar is the last."""
    chart = asked(states={"18": ToothState.UNERUPTED, "17": ToothState.PONTIC})

    assert "distal:17" in chart
    assert "distal:18" not in chart


def test_a_quadrant_without_contacts_owes_no_distal() -> None:
    chart = asked(states={tooth: ToothState.MISSING for tooth in PERMANENT if tooth.startswith("1")})

    assert not any(target.startswith("distal:1") for target in chart)
    assert "contact:11-21" not in chart


def test_a_closed_space_asks_for_the_contact_and_not_for_the_ridge() -> None:
    chart = asked(states={"14": ToothState.MISSING}, closed_spaces=(("15", "13"),))

    assert "contact:15-13" in chart
    assert "ridge:14" not in chart


def test_an_open_space_asks_for_the_ridge_and_for_no_contact_across_it() -> None:
    chart = asked(states={"14": ToothState.MISSING})

    assert "ridge:14" in chart
    assert not any(target in chart for target in ("contact:15-13", "contact:15-14", "contact:14-13"))


def test_a_root_left_in_a_closed_space_is_still_asked_for() -> None:
    chart = asked(states={"14": ToothState.ROOT_REMNANT}, closed_spaces=(("15", "13"),))

    assert {"apex:14:B", "apex:14:P"} <= chart


def test_a_closed_space_may_cross_the_midline() -> None:
    chart = asked(states={"31": ToothState.MISSING, "41": ToothState.MISSING}, closed_spaces=(("32", "42"),))

    assert "contact:42-32" in chart


@pytest.mark.parametrize(
    ("states", "pair", "words"),
    [
        ({}, ("15", "13"), "position 14 between them is present"),
        ({"14": ToothState.PONTIC}, ("15", "13"), "position 14 between them is pontic"),
        ({"14": ToothState.MISSING}, ("15", "14"), "no position between"),
        ({"14": ToothState.MISSING}, ("15", "43"), "upper and a lower"),
        ({"14": ToothState.MISSING, "15": ToothState.UNERUPTED}, ("15", "13"), "15 is unerupted"),
        ({"14": ToothState.MISSING}, ("15", "99"), 'no tooth "99"'),
    ],
)
def test_a_space_that_cannot_close_is_refused(
    states: dict[str, ToothState], pair: tuple[str, str], words: str
) -> None:
    with pytest.raises(InputError) as error:
        Dentition(states=states, closed_spaces=(pair,))

    assert error.value.path == "closed_spaces[0]"
    assert words in error.value.message


def test_a_mixed_dentition_has_only_the_positions_it_names() -> None:
    chart = asked(kind="mixed", states={"16": ToothState.PRESENT, "54": ToothState.PRESENT})

    assert {target for target in chart if kind(target) == "crown"} == {"crown:16", "crown:54"}  # type: ignore[arg-type]
    assert count(chart, "contact") == 0


def test_primary_and_permanent_teeth_side_by_side_are_neighbours_over_an_unerupted_successor() -> None:
    present = dict.fromkeys(("16", "55", "54", "53", "12", "11", "21"), ToothState.PRESENT)
    coming = dict.fromkeys(("15", "14", "13"), ToothState.UNERUPTED)

    chart = asked(kind="mixed", states=present | coming)

    assert {target for target in chart if kind(target) == "contact"} == {  # type: ignore[arg-type]
        "contact:16-55",
        "contact:55-54",
        "contact:54-53",
        "contact:53-12",
        "contact:12-11",
        "contact:11-21",
    }
    assert {"crown:15", "apex:15:R"} <= chart


def test_charted_roots_replace_the_usual_ones_and_an_implant_keeps_its_one_end() -> None:
    chart = asked(roots={"14": ("R",), "46": ("M", "D", "L"), "36": ("M",)}, states={"36": ToothState.IMPLANT})

    assert {target for target in chart if target.startswith(("apex:14", "apex:46", "apex:36"))} == {
        "apex:14:R",
        "apex:46:M",
        "apex:46:D",
        "apex:46:L",
        "apex:36:R",
    }


@pytest.mark.parametrize(
    ("chart", "path"),
    [
        ({"kind": "permanent", "states": {"55": ToothState.PRESENT}}, "dentition.55"),
        ({"kind": "primary", "states": {"16": ToothState.UNERUPTED}}, "dentition.16"),
        ({"states": {"19": ToothState.MISSING}}, "dentition.19"),
        ({"kind": "adult"}, "dentition_kind"),
        ({"roots": {"14": ()}}, "roots.14"),
        ({"roots": {"14": ("B", "X")}}, "roots.14"),
        ({"roots": {"14": ("B", "B")}}, "roots.14"),
        ({"roots": {"14": ("R", "B")}}, "roots.14"),
        ({"roots": {"54": ("R",)}}, "roots.54"),
    ],
)
def test_a_chart_that_cannot_be_is_refused_at_its_field(chart: dict[str, object], path: str) -> None:
    with pytest.raises(InputError) as error:
        Dentition(**chart)  # type: ignore[arg-type]

    assert error.value.path == path


def test_targets_come_in_arch_order_and_once_each() -> None:
    order = [target for target in asked_targets(Dentition()) if kind(target) == "crown"]

    assert order == [f"crown:{tooth}" for tooth in PERMANENT]
    everything = asked_targets(Dentition(kind="primary"))
    assert len(set(everything)) == len(everything)
    assert {tooth for target in everything for tooth in teeth(target)} == set(PRIMARY)
