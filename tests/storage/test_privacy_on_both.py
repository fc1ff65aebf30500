"""Merging, its undo, the export's rows and erasing, on both kinds of database."""

from __future__ import annotations

from dataclasses import replace

from app.storage.patient_rows import rows_about
from tests.making import a_series
from tests.people import Practice, a_patient
from tests.work.test_erasing import NAMES, choose, confirmed, erased, full_record, whole_database
from tests.work.test_merges import contact, everything, merged, twin_of, undone


def test_a_merge_and_its_undo_leave_every_row_as_it_was(either: Practice) -> None:
    kept, other = a_patient(either), twin_of(either)
    a_series(either, patient_id=other.id)
    contact(either, other.id)
    before = everything(either)

    undone(either, merged(either, kept.id, other.id, phone="merged", chart_number="merged"))

    assert everything(either) == before


def test_the_rows_about_a_patient_are_found_and_then_erased(either: Practice) -> None:
    patient, _ = full_record(either)
    choose(either)
    with either.store.reading(either.dentist.practice_id) as scope:
        found = {table: len(rows) for table, rows in rows_about(scope, patient.id) if rows}
    both = replace(either.dentist, administers=True)
    erased(either, confirmed(either, patient.id), both, chart_number="H100")
    left = whole_database(either)

    assert found["exposure"] == found["image"] == 2
    assert found["contact_note"] == found["sign_off"] == 1
    assert [name for name in NAMES if name in left] == []
    assert either.store.images.names() == []
