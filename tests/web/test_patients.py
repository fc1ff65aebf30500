"""Patients: found, registered, corrected."""

from __future__ import annotations

import pytest

from tests.making import a_series
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words

NEW = {"name": "Odo Farrant", "chart_number": "H7", "birth_date": "2018-02-03", "preferred_contact": "phone"}


def register(client: PageClient, **changes: str):
    return client.submit(client.get("/patients/new"), "/patients/new", NEW | changes)


def test_registering_leads_to_the_patient_s_page(front_desk: PageClient) -> None:
    page = register(front_desk)

    assert page.h1 == "Odo Farrant"
    assert "The patient is registered." in page.text
    assert "3 Feb 2018" in page.text


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("name", "", "this is empty. Fill it in"),
        ("birth_date", "3.2.2018", '"3.2.2018" is not a date. Write year, month and day, like 1984-03-27'),
        ("birth_date", "2999-01-01", "2999-01-01 is in the future. Enter the day the patient was born"),
        ("email", "nowhere", '"nowhere" is not an address. Write it like name@example.org, or leave it empty'),
        ("chart_number", "H100", '"H100" belongs to Ada Merriweather-Stone. Enter another chart number'),
    ],
)
def test_a_wrong_field_is_told_at_the_field_and_above_it(
    assistant: PageClient, practice: Practice, field: str, value: str, message: str
) -> None:
    a_patient(practice)

    page = register(assistant, **{field: value})

    assert page.status == 422
    assert page.error_at(field) == message
    assert page.errors() == [message]
    assert page.find(".mend a")["href"] == f"#f-{field}"


def test_what_was_typed_stays_where_something_was_wrong(assistant: PageClient) -> None:
    page = register(assistant, birth_date="yesterday")

    assert page.find("#f-name")["value"] == "Odo Farrant"
    assert page.find("#f-preferred_contact option[selected]")["value"] == "phone"
    assert words(page.soup.title).startswith("Error: New patient")


def test_a_correction_is_kept(front_desk: PageClient, practice: Practice) -> None:
    address = f"/patients/{a_patient(practice).id}/edit"

    page = front_desk.submit(front_desk.get(address), address, {"phone": "01632 960001"})

    assert "01632 960001" in page.text
    assert page.h1 == "Ada Merriweather-Stone"


@pytest.mark.parametrize("words_typed", ["merri", "ada stone", "h100", "H1"])
def test_a_patient_is_found_by_parts_of_name_or_chart_number(
    front_desk: PageClient, practice: Practice, words_typed: str
) -> None:
    a_patient(practice)

    page = front_desk.get("/patients", params={"q": words_typed})

    assert [words(each) for each in page.all("tbody th")] == ["Ada Merriweather-Stone"]


def test_nobody_found_says_what_to_do(assistant: PageClient) -> None:
    page = assistant.get("/patients?q=zzz")

    assert words(page.find(".empty")) == "Nobody found. Check the spelling, or register a new patient."


def test_a_percent_sign_is_a_letter_not_a_wildcard(assistant: PageClient, practice: Practice) -> None:
    a_patient(practice)

    page = assistant.get("/patients", params={"q": "%"})

    assert page.all("tbody th") == []


def test_the_front_desk_sees_the_series_but_no_way_into_them(front_desk: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)
    a_series(practice, patient_id=patient.id)

    page = front_desk.get(f"/patients/{patient.id}")

    assert "Adult series" in page.text
    assert page.all('a[href^="/series/"], .teeth') == []


def test_the_assistant_goes_from_the_history_into_a_series(assistant: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)

    page = assistant.get(f"/patients/{patient.id}")

    assert page.find("tbody a")["href"] == f"/series/{series.id}"


def test_home_asks_the_database_no_more_for_more_series(assistant: PageClient, practice: Practice) -> None:
    """The number of statements does not grow with the number of series listed."""
    from sqlalchemy import event

    store = assistant.application.state.store
    seen: list[str] = []
    event.listen(store.engine, "before_cursor_execute", lambda *each: seen.append(each[2]))
    a_series(practice)
    assistant.get("/")
    seen.clear()
    assistant.get("/")
    for_one = len(seen)
    for number in range(6):
        a_series(practice, patient_id=a_patient(practice, chart_number=f"K{number}").id)
    seen.clear()

    page = assistant.get("/")

    assert len(page.all("tbody tr")) == 7
    assert len(seen) == for_one
