"""The practice's settings: each is kept, each fault told at its field."""

from __future__ import annotations

import pytest

from app.storage.practice import Practice as PracticeRow
from tests.people import Practice
from tests.web.client import PageClient, words


def row(practice: Practice) -> PracticeRow:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return scope.practice()


@pytest.mark.parametrize(
    ("field", "value", "kept"),
    [
        ("name", "Otter Lane", "Otter Lane"),
        ("numbering", "quadrant", "quadrant"),
        ("posterior_contacts", "bitewing", "bitewing"),
        ("bone_beyond_apex_mm", "3", 3),
        ("upper_canine_lateral", "whole", "whole"),
    ],
)
def test_a_policy_is_kept(dentist: PageClient, practice: Practice, field: str, value: str, kept: object) -> None:
    page = dentist.submit(dentist.get("/practice"), "/practice", {field: value})

    assert getattr(row(practice), field) == kept
    assert "The settings are kept" in page.text


@pytest.mark.parametrize(
    "field", ["numbering", "posterior_contacts", "bone_beyond_apex_mm", "upper_canine_lateral"]
)
def test_a_policy_that_is_not_offered_is_told_at_its_field(
    dentist: PageClient, practice: Practice, field: str
) -> None:
    before = getattr(row(practice), field)

    page = dentist.submit(dentist.get("/practice"), "/practice", {field: "17"})

    assert page.status == 422
    assert '"17"' in page.error_at(field)
    assert getattr(row(practice), field) == before


def test_a_room_is_added_retired_and_put_back(dentist: PageClient) -> None:
    page = dentist.submit(dentist.get("/practice/rooms"), "/practice/rooms", {"room_name": "Garden room"})
    retire = page.find("tbody form")["action"]
    retired = dentist.submit(page, retire)
    back = dentist.submit(retired, retire)

    assert "retired" in words(retired.find("tbody"))
    assert "retired" not in words(back.find("tbody"))


def test_a_receptor_without_a_kind_is_told_at_its_field(dentist: PageClient) -> None:
    values = {"receptor_name": "Sensor A", "receptor_size": "2"}

    page = dentist.submit(dentist.get("/practice/rooms"), "/practice/receptors", values)

    assert page.error_at("receptor_kind") == "choose direct sensor, phosphor plate or film"
    assert page.find("#f-receptor_name")["value"] == "Sensor A"


def test_file_name_patterns_are_kept_in_order(dentist: PageClient, practice: Practice) -> None:
    text = "*_ur6* = UR-molar\n\n *a=b* =UL-molar"

    dentist.submit(dentist.get("/practice/loading"), "/practice/loading/file-names", {"patterns": text})

    assert row(practice).file_name_patterns == [
        {"pattern": "*_ur6*", "slot": "UR-molar"},
        {"pattern": "*a=b*", "slot": "UL-molar"},
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("*a* = UR-molar\n*b*", 'line 2: "*b*" names no slot. Write it like *_ur6* = UR-molar'),
        ("* = UR-molar", 'line 1: "*" would fit every file. Write some letters too'),
        ("*a* = UR-molr", 'line 1: no template has a slot "UR-molr". Did you mean "UR-molar"?'),
    ],
)
def test_a_wrong_pattern_is_told_with_its_line(dentist: PageClient, text: str, message: str) -> None:
    page = dentist.submit(dentist.get("/practice/loading"), "/practice/loading/file-names", {"patterns": text})

    assert page.error_at("patterns") == message


def test_an_exposure_order_is_kept_and_forgotten(dentist: PageClient, practice: Practice) -> None:
    address = "/practice/loading/bitewings-2"
    form = dentist.get(address)
    order = [str(each["value"]) for each in form.all("#slot-1 option")]
    dentist.submit(form, address, {"slot": order[::-1]})
    kept = row(practice).exposure_orders.get("bitewings-2")
    dentist.post(address, {"as": "listed"})

    assert kept == order[::-1]
    assert not row(practice).exposure_orders.get("bitewings-2")


def test_a_view_twice_in_an_order_is_refused(dentist: PageClient, practice: Practice) -> None:
    address = "/practice/loading/bitewings-2"
    form = dentist.get(address)
    first = str(form.find("#slot-1 option")["value"])

    page = dentist.submit(form, address, {"slot": [first, first]})

    assert page.status == 422
    assert "stands twice. Name each view once" in page.errors()[0]
    assert row(practice).exposure_orders == {}
