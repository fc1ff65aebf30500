"""Two people had the same form open: the second one is asked, loses nothing, and can have both."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from bs4 import Tag

from app.storage.people import Patient
from tests.people import Practice, a_patient
from tests.web.client import Page, PageClient, form_values, words


def kept(practice: Practice, patient_id: str) -> Patient:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return scope.get(Patient, patient_id, "patient")


def way(page: Page, text: str) -> Tag:
    """The form whose button says that."""
    return next(each for each in page.all("form.choice-way") if text in words(each))


def press(client: PageClient, page: Page, text: str) -> Page:
    return client.submit_form(way(page, text))


def rows_of(page: Page) -> dict[str, list[str]]:
    """What the choice says of each field: when opened, now, yours."""
    return {
        words(row.select_one("th")).split(" changed")[0].split(" you both")[0]: [
            words(cell) for cell in row.select("td")
        ]
        for row in page.all(".choice-table tbody tr")
    }


@pytest.fixture
def patient(practice: Practice) -> Patient:
    return a_patient(practice)


def meet(
    first: PageClient, second: PageClient, patient: Patient, theirs: Mapping[str, Any], mine: Mapping[str, Any]
) -> Page:
    """Both open the form; the first keeps theirs, then the second sends mine."""
    address = f"/patients/{patient.id}/edit"
    opened = second.get(address)
    assert first.submit(first.get(address), address, theirs).status == 200
    return second.submit(opened, address, mine)


def test_an_old_form_writes_nothing_and_shows_all_three_states(
    front_desk: PageClient, assistant: PageClient, patient: Patient, practice: Practice
) -> None:
    page = meet(front_desk, assistant, patient, {"phone": "555 0101"}, {"phone": "555 0202"})

    assert page.status == 409
    assert page.h1 == "Changed meanwhile"
    opened, now, yours = rows_of(page)["Phone"]
    assert (opened, yours) == ("nothing", "555 0202")
    assert now.startswith("555 0101 Pell Orcutt,")
    assert "you both changed it" in page.text
    assert kept(practice, patient.id).phone == "555 0101"


def test_where_both_changed_the_same_field_there_is_no_saving_both(
    front_desk: PageClient, assistant: PageClient, patient: Patient
) -> None:
    page = meet(front_desk, assistant, patient, {"phone": "555 0101"}, {"phone": "555 0202"})

    assert [words(each) for each in page.all("form.choice-way button")] == ["Save mine over it"]


def test_save_both_keeps_what_each_changed(
    front_desk: PageClient, assistant: PageClient, patient: Patient, practice: Practice
) -> None:
    page = meet(front_desk, assistant, patient, {"phone": "555 0101"}, {"email": "ada@example.org"})
    after = press(assistant, page, "Save both")

    assert after.h1 == patient.name
    assert (kept(practice, patient.id).phone, kept(practice, patient.id).email) == ("555 0101", "ada@example.org")


def test_save_mine_over_it_keeps_the_whole_form_as_it_was_typed(
    front_desk: PageClient, assistant: PageClient, patient: Patient, practice: Practice
) -> None:
    page = meet(
        front_desk, assistant, patient, {"phone": "555 0101"}, {"name": "Ada M. Stone", "reason": "married"}
    )
    press(assistant, page, "Save mine over it")

    assert (kept(practice, patient.id).name, kept(practice, patient.id).phone) == ("Ada M. Stone", "")


def test_keep_theirs_leads_to_the_form_as_it_is_now(
    front_desk: PageClient, assistant: PageClient, patient: Patient
) -> None:
    page = meet(front_desk, assistant, patient, {"phone": "555 0101"}, {"phone": "555 0202"})
    link = next(each for each in page.all("a.button") if words(each) == "Keep theirs")
    again = assistant.get(str(link["href"]))

    assert again.find("#f-phone")["value"] == "555 0101"


def test_the_same_change_by_both_simply_succeeds(
    front_desk: PageClient, assistant: PageClient, patient: Patient
) -> None:
    page = meet(front_desk, assistant, patient, {"phone": "555 0101"}, {"phone": "555 0101"})

    assert page.h1 == patient.name


def test_a_change_of_what_the_form_does_not_show_simply_passes(
    dentist: PageClient, front_desk: PageClient, patient: Patient, practice: Practice
) -> None:
    """The chart stands in the patient's row too, but not on the form of the details."""
    address, chart = f"/patients/{patient.id}/edit", f"/patients/{patient.id}/chart"
    opened = front_desk.get(address)
    dentist.submit(dentist.get(chart), chart, {"state-18": "missing"})
    page = front_desk.submit(opened, address, {"phone": "555 0101"})

    assert page.h1 == patient.name
    assert kept(practice, patient.id).states == {"18": "missing"}
    assert kept(practice, patient.id).phone == "555 0101"


def test_a_third_change_while_choosing_asks_again(
    front_desk: PageClient, assistant: PageClient, patient: Patient, practice: Practice
) -> None:
    page = meet(front_desk, assistant, patient, {"phone": "555 0101"}, {"email": "ada@example.org"})
    address = f"/patients/{patient.id}/edit"
    front_desk.submit(front_desk.get(address), address, {"phone": "555 0303"})
    again = press(assistant, page, "Save both")

    assert again.status == 409
    assert rows_of(again)["Phone"][0] == "555 0101"
    assert kept(practice, patient.id).email == ""


def test_a_form_that_is_also_wrong_keeps_what_it_showed_when_it_was_opened(
    front_desk: PageClient, assistant: PageClient, patient: Patient
) -> None:
    """The mistake is told first; once it is mended, the choice still comes."""
    address = f"/patients/{patient.id}/edit"
    wrong = assistant.submit(assistant.get(address), address, {"email": "nowhere", "phone": "555 0202"})
    front_desk.submit(front_desk.get(address), address, {"phone": "555 0101"})
    page = assistant.submit(wrong, address, {"email": "ada@example.org"})

    assert wrong.status == 422
    assert page.status == 409


def test_a_damaged_hidden_field_is_refused_and_nothing_written(
    assistant: PageClient, patient: Patient, practice: Practice
) -> None:
    address = f"/patients/{patient.id}/edit"
    answers = [
        assistant.submit(assistant.get(address), address, {"phone": "1", "opened": damaged})
        for damaged in ("{", "[]", '{"version":1}', '{"version":1,"fields":[1]}', "[" * 5000)
    ]

    assert [each.status for each in answers] == [422] * 5
    assert kept(practice, patient.id).phone == ""


def test_two_who_change_different_teeth_can_have_both(
    dentist: PageClient, assistant: PageClient, patient: Patient, practice: Practice
) -> None:
    address = f"/patients/{patient.id}/chart"
    opened = assistant.get(address)
    dentist.submit(dentist.get(address), address, {"state-14": "missing", "space": ["15-13", ""]})
    page = assistant.submit(opened, address, {"state-36": "implant", "root-36": ["R"]})
    press(assistant, page, "Save both")

    assert set(rows_of(page)) >= {"Tooth 14", "Space closed 15–13", "Tooth 36"}
    assert kept(practice, patient.id).states == {"14": "missing", "36": "implant"}
    assert kept(practice, patient.id).closed_spaces == ["15-13"]


def test_a_script_is_told_in_one_sentence(front_desk: PageClient, assistant: PageClient, patient: Patient) -> None:
    address = f"/patients/{patient.id}/edit"
    values = form_values(assistant.get(address).find(f'form[action="{address}"]'))
    front_desk.submit(front_desk.get(address), address, {"phone": "555 0101"})
    page = assistant.request("POST", address, data=values, headers={"Accept": "application/json"})

    assert page.status == 409
    assert page.json()["error"]["message"].startswith("Pell Orcutt changed this after you opened it")
