"""A series is started in two steps."""

from __future__ import annotations

import pytest

from app.storage.series import SeriesRow
from tests.making import a_series
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words


def second_step(client: PageClient, patient_id: str, **changes: str):
    address = f"/series/new/{patient_id}"
    return client.submit(client.get(address), address, changes, follow=False)


def started(practice: Practice) -> list[SeriesRow]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return list(scope.all(scope.select(SeriesRow)))


def test_the_second_step_ends_at_the_series(assistant: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)

    page = second_step(assistant, patient.id, reason="recurrent caries", prescribed_by=practice.dentist.staff_id)

    (row,) = started(practice)
    assert page.response.headers["location"] == f"/series/{row.id}"
    assert (row.template_key, row.prescribed_by, row.reason) == (
        "adult-18",
        practice.dentist.staff_id,
        "recurrent caries",
    )


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("reason", "", "this is empty. Fill it in"),
        ("prescribed_by", "", "choose the dentist from the list: radiographs are prescribed by a dentist"),
        ("template", "adult-19", 'no template "adult-19". Choose one from the list. Did you mean "adult-18"?'),
    ],
)
def test_what_is_missing_is_told_at_its_field(
    assistant: PageClient, practice: Practice, field: str, value: str, message: str
) -> None:
    patient = a_patient(practice)
    given = {"reason": "new patient", "prescribed_by": practice.dentist.staff_id}

    page = second_step(assistant, patient.id, **(given | {field: value}))

    assert page.status == 422
    assert page.error_at(field) == message
    assert started(practice) == []


def test_an_assistant_cannot_prescribe(assistant: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)

    page = second_step(assistant, patient.id, reason="asked for it", prescribed_by=practice.assistant.staff_id)

    assert page.status == 422
    assert started(practice) == []


@pytest.mark.parametrize(
    ("born", "template"), [("1984-05-06", "adult-18"), ("2017-05-06", "mixed-12"), ("2023-05-06", "primary-8")]
)
def test_the_template_usual_for_the_teeth_is_ticked(
    assistant: PageClient, practice: Practice, born: str, template: str
) -> None:
    patient = a_patient(practice, born=born)

    page = assistant.get(f"/series/new/{patient.id}")

    assert page.find('input[name="template"][checked]')["value"] == template
    assert page.find('input[name="template"]')["value"] == template


def test_the_first_step_shows_the_chart_and_series_still_open(assistant: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)

    page = assistant.get(f"/series/new?patient={patient.id}")

    assert len(page.all(".tooth")) == 32
    assert page.find("table a")["href"] == f"/series/{series.id}"


def test_a_new_patient_registered_on_the_way_comes_back_to_the_first_step(assistant: PageClient) -> None:
    form = assistant.get(assistant.get("/series/new?q=Odo").find('a[href^="/patients/new"]')["href"])
    values = {"name": "Odo Farrant", "chart_number": "H9", "birth_date": "1990-01-02"}

    page = assistant.submit(form, "/patients/new?then=series", values)

    assert page.h1 == "Start a series"
    assert "Odo Farrant" in words(page.find("h2"))
