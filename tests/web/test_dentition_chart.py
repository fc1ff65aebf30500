"""The dentition chart as a form: what is shown can be sent back, and what is wrong is told."""

from __future__ import annotations

import pytest

from app.core.dentition import Dentition, ToothState
from app.work.charts import chart_of
from app.work.patients import save_chart
from tests.making import a_series
from tests.people import Practice, a_patient
from tests.web.client import PageClient


def kept(practice: Practice, patient_id: str) -> Dentition:
    from app.storage.people import Patient

    with practice.store.reading(practice.dentist.practice_id) as scope:
        return chart_of(scope.get(Patient, patient_id, "patient"))


CHARTS = [
    Dentition(),
    Dentition(kind="primary", states={"55": ToothState.MISSING}),
    Dentition(
        states={"18": ToothState.MISSING, "36": ToothState.IMPLANT, "14": ToothState.MISSING},
        roots={"15": ("B", "P")},
        closed_spaces=(("15", "13"),),
    ),
    Dentition(
        kind="mixed",
        states={"16": ToothState.PRESENT, "55": ToothState.PRESENT, "15": ToothState.UNERUPTED},
        roots={"16": ("MB", "DB")},
    ),
]


@pytest.mark.parametrize("chart", CHARTS, ids=["full", "primary", "changed", "mixed"])
def test_a_form_sent_back_untouched_changes_nothing(
    assistant: PageClient, practice: Practice, chart: Dentition
) -> None:
    patient = a_patient(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        save_chart(scope, practice.assistant, patient.id, chart)
    address = f"/patients/{patient.id}/chart"

    page = assistant.submit(assistant.get(address), address)

    assert page.path == f"/patients/{patient.id}?note=chart-kept"
    assert kept(practice, patient.id) == chart


def test_state_roots_and_a_closed_space_are_kept(assistant: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)
    address = f"/patients/{patient.id}/chart"
    changes = {"state-24": "missing", "state-46": "implant", "root-14": ["R"], "space": ["25-23", ""]}

    page = assistant.submit(assistant.get(address), address, changes)

    chart = kept(practice, patient.id)
    assert chart.states == {"24": ToothState.MISSING, "46": ToothState.IMPLANT}
    assert chart.roots == {"14": ("R",)}
    assert chart.closed_spaces == (("23", "25"),)
    assert "space closed: 23–25" in page.text


def test_another_kind_of_dentition_is_shown_before_it_is_kept(assistant: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)
    address = f"/patients/{patient.id}/chart"
    page = assistant.get(f"{address}?kind=primary")
    before = kept(practice, patient.id).kind

    assistant.submit(page, address)

    assert before == "permanent"
    assert kept(practice, patient.id) == Dentition(kind="primary")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"space": ["15-14"]}, 'closed_spaces[0]: "15-14" has no position between'),
        ({"space": ["15-35"]}, 'closed_spaces[0]: "15-35" joins an upper and a lower tooth'),
        ({"space": ["<b>"]}, "closed_spaces[0]: '<b>' is not a pair of teeth"),
        ({"state-16": "gone"}, 'dentition.16: no state "gone"'),
        ({"root-16": ["R", "MB"]}, "roots.16: R is the only root of a tooth"),
    ],
)
def test_a_chart_that_cannot_be_is_refused_and_nothing_kept(
    assistant: PageClient, practice: Practice, changes: dict[str, object], message: str
) -> None:
    patient = a_patient(practice)
    address = f"/patients/{patient.id}/chart"

    page = assistant.submit(assistant.get(address), address, changes)

    assert page.status == 422
    assert page.errors()[0].startswith(message)
    assert kept(practice, patient.id) == Dentition()


def test_teeth_are_named_as_the_practice_reads_them(dentist: PageClient, practice: Practice) -> None:
    patient = a_patient(practice)
    dentist.submit(dentist.get("/practice"), "/practice", {"numbering": "universal"})

    page = dentist.get(f"/patients/{patient.id}/chart")

    assert page.find('button[data-tooth="18"] .tooth-name').get_text() == "1"
    assert page.find('button[data-tooth="48"] .tooth-name').get_text() == "32"


def test_an_open_series_follows_the_chart(assistant: PageClient, practice: Practice) -> None:
    from app.storage.series import SeriesRow

    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)
    address = f"/patients/{patient.id}/chart"

    assistant.submit(assistant.get(address), address, {"state-18": "missing"})

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.get(SeriesRow, series.id, "series").dentition["dentition"] == {"18": "missing"}


def test_keeping_the_chart_leads_back_to_the_series_being_started(
    assistant: PageClient, practice: Practice
) -> None:
    patient = a_patient(practice)
    back = f"/series/new?patient={patient.id}"
    form = assistant.get(assistant.get(back).find('a[href*="/chart?"]')["href"])

    page = assistant.submit(form, f"/patients/{patient.id}/chart")

    assert page.h1 == "Start a series"
    assert page.path == f"{back}&note=chart-kept"
