"""Patients are registered, corrected and found, and begin with the chart that is usual for their age."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from app.core.dentition import Dentition
from app.core.errors import InputError
from app.storage.people import Patient
from app.work.charts import chart_of
from app.work.patients import correct_patient, find_patients, register_patient
from tests.people import TODAY, Practice, a_patient


def registered(practice: Practice, chart_number: str, name: str, **changed: str) -> Patient:
    """A patient, born 1984-05-06 where nothing else is said."""
    words = {"birth_date": "1984-05-06"} | changed
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        return register_patient(
            scope, practice.front_desk, chart_number=chart_number, name=name, today=TODAY, **words
        )


def found(practice: Practice, words: str) -> Sequence[str]:
    """The names found."""
    with practice.store.reading(practice.front_desk.practice_id) as scope:
        return [row.name for row in find_patients(scope, words)]


def test_what_is_registered_is_there(practice: Practice) -> None:
    registered(practice, " H7 ", " Bo Tarn ", phone="01 23", email="bo@example.org", preferred_contact="letter")

    with practice.store.reading(practice.front_desk.practice_id) as scope:
        (row,) = find_patients(scope)
    assert (row.chart_number, row.name, row.birth_date.isoformat()) == ("H7", "Bo Tarn", "1984-05-06")
    assert (row.phone, row.email, row.preferred_contact) == ("01 23", "bo@example.org", "letter")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"chart_number": ""}, "chart_number"),
        ({"chart_number": "9" * 41}, "chart_number"),
        ({"name": "   "}, "name"),
        ({"name": "a\x07b"}, "name"),
        ({"name": "x" * 201}, "name"),
        ({"birth_date": "06/05/1984"}, "birth_date"),
        ({"birth_date": "1984-02-30"}, "birth_date"),
        ({"birth_date": "2026-03-28"}, "birth_date"),
        ({"birth_date": "1884-05-06"}, "birth_date"),
        ({"email": "nowhere"}, "email"),
        ({"preferred_contact": "pigeon"}, "preferred_contact"),
    ],
)
def test_a_wrong_field_is_named_and_nobody_is_registered(
    practice: Practice, wrong: dict[str, str], field: str
) -> None:
    right = {"chart_number": "H1", "name": "Bo Tarn"}

    with pytest.raises(InputError) as refused:
        registered(practice, **(right | wrong))

    assert refused.value.path == field
    assert found(practice, "") == []


def test_a_chart_number_belongs_to_one_patient(practice: Practice) -> None:
    registered(practice, "H1", "Bo Tarn")

    with pytest.raises(InputError, match='chart_number: "H1" belongs to Bo Tarn'):
        registered(practice, "H1", "Ada Quill")


def test_a_correction_replaces_what_was_written(practice: Practice) -> None:
    patient = registered(practice, "H1", "Bo Tarn")
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        correct_patient(
            scope,
            practice.front_desk,
            patient.id,
            chart_number="H1",
            name="Bo Tarn-Vale",
            birth_date="1985-05-06",
            reason="as on the card",
            today=TODAY,
        )

    assert found(practice, "H1") == ["Bo Tarn-Vale"]
    assert found(practice, "vale") == ["Bo Tarn-Vale"]


def test_a_correction_cannot_take_anothers_chart_number_and_then_changes_nothing(practice: Practice) -> None:
    registered(practice, "H1", "Bo Tarn")
    other = registered(practice, "H2", "Ada Quill")

    with (
        pytest.raises(InputError, match="belongs to Bo Tarn"),
        practice.store.writing(practice.front_desk.practice_id) as scope,
    ):
        correct_patient(
            scope,
            practice.front_desk,
            other.id,
            chart_number="H1",
            name="Ada Changed",
            birth_date="1984-05-06",
            reason="as on the card",
            today=TODAY,
        )

    assert found(practice, "") == ["Ada Quill", "Bo Tarn"]


@pytest.mark.parametrize(
    "words",
    ["quill", "QUILL", "ada quill", "quill ada", "uil", "h2", "ada h2", "Åse", "åse", "ase", "ÅSE", "A\u030ase"],
)
def test_a_patient_is_found_by_words_of_the_name_and_chart_number(practice: Practice, words: str) -> None:
    registered(practice, "H1", "Bo Tarn")
    registered(practice, "H2", "Ada Åse Quill")

    assert found(practice, words) == ["Ada Åse Quill"]


@pytest.mark.parametrize("words", ["%", "_", "\\", "quill bo", "H3", "' or 1=1 --"])
def test_signs_of_the_query_language_find_nobody(practice: Practice, words: str) -> None:
    registered(practice, "H1", "Bo Tarn")
    registered(practice, "H2", "Ada Quill")

    assert found(practice, words) == []


def test_patients_are_listed_by_name_and_no_more_than_asked_for(practice: Practice) -> None:
    for number, name in enumerate(("Cy", "Ada", "Bo")):
        registered(practice, f"H{number}", name)

    with practice.store.reading(practice.front_desk.practice_id) as scope:
        assert [row.name for row in find_patients(scope, limit=2)] == ["Ada", "Bo"]


@pytest.mark.parametrize(
    ("born", "kind", "states"),
    [
        ("2020-03-28", "primary", {}),
        ("2020-03-27", "mixed", {"16": "present", "53": "present", "15": "unerupted", "18": None}),
        ("2014-03-28", "mixed", {"11": "present"}),
        ("2014-03-27", "permanent", {"18": "unerupted", "17": "present"}),
        ("2008-03-28", "permanent", {"48": "unerupted"}),
        ("2008-03-27", "permanent", {"48": "present"}),
    ],
)
def test_the_first_chart_is_the_usual_one_for_the_age(
    practice: Practice, born: str, kind: str, states: dict[str, str | None]
) -> None:
    """Ages turn on the birthday; the limits are common practice, without a source."""
    chart: Dentition = chart_of(a_patient(practice, born=born))

    assert chart.kind == kind
    assert {tooth: chart.state(tooth) for tooth in states} == states
