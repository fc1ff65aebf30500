"""Of two transactions that read the same version only the first can write, on both databases."""

from __future__ import annotations

import pytest

from app.storage.people import Patient
from app.storage.series import SeriesRow
from app.storage.versions import ChangedAtOnce, stamp_of
from app.work.actor import TEAM, require
from app.work.patients import correct_patient
from tests.making import a_series
from tests.people import TODAY, Practice, a_patient


def version(practice: Practice, patient_id: str) -> int:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return scope.get(Patient, patient_id, "patient").row_version


def test_a_change_raises_the_version_and_notes_who_and_which_column(either: Practice) -> None:
    patient = a_patient(either)
    with either.store.writing(either.dentist.practice_id) as scope:
        correct_patient(
            scope,
            either.dentist,
            patient.id,
            chart_number="H100",
            name="Ada Merriweather-Stone",
            birth_date="1984-05-06",
            phone="555 0101",
            today=TODAY,
        )
    with either.store.reading(either.dentist.practice_id) as scope:
        row = scope.get(Patient, patient.id, "patient")
        stamp = stamp_of(row, "phone")

    assert row.row_version == 2
    assert set(row.touched) == {"phone"}
    assert stamp is not None
    assert stamp.by == either.dentist.staff_id


def test_writing_the_same_values_is_no_change(either: Practice) -> None:
    patient = a_patient(either)
    with either.store.writing(either.dentist.practice_id) as scope:
        row = scope.get(Patient, patient.id, "patient")
        row.states = dict(row.states)
        row.name = str(row.name)
        scope.session.add(row)

    with either.store.reading(either.dentist.practice_id) as scope:
        assert scope.get(Patient, patient.id, "patient").touched == {}


def test_a_transaction_that_read_an_older_version_cannot_write(either: Practice) -> None:
    """Two sessions as two processes would have them; on SQLite the first reads before it begins to write."""
    patient = a_patient(either)
    require(either.dentist, TEAM, "test")
    with either.store.reading(either.dentist.practice_id) as scope:
        old = scope.get(Patient, patient.id, "patient")
    with either.store.writing(either.dentist.practice_id) as scope:
        scope.get(Patient, patient.id, "patient").phone = "555 0101"

    def write_from_the_old() -> None:
        with either.store.writing(either.dentist.practice_id) as scope:
            scope.session.add(old)
            old.phone = "555 0202"

    with pytest.raises(ChangedAtOnce, match="nothing of yours was kept"):
        write_from_the_old()

    with either.store.reading(either.dentist.practice_id) as scope:
        assert scope.get(Patient, patient.id, "patient").phone == "555 0101"
    assert version(either, patient.id) == 2


def test_a_held_row_is_read_as_it_is_now(either: Practice) -> None:
    """What the session read before may be old; once held, the row is the newest and stays so."""
    series = a_series(either)
    with either.store.writing(either.dentist.practice_id) as scope:
        scope.get(SeriesRow, series.id, "series")
        if either.store.engine.dialect.name != "sqlite":
            with either.store.writing(either.dentist.practice_id) as other:
                other.get(SeriesRow, series.id, "series").reason = "changed meanwhile"
        row = scope.held(SeriesRow, series.id, "series")
        row.version += 1
        scope.session.add(row)

    with either.store.reading(either.dentist.practice_id) as scope:
        assert scope.get(SeriesRow, series.id, "series").version == 2
