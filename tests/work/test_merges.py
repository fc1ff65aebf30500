"""Two records of one person made one, and the undo."""

from __future__ import annotations

import pytest
from sqlmodel import SQLModel, select

from app.core.errors import FullcountError, InputError
from app.storage.patient_keys import patient_keys
from app.storage.people import Patient
from app.storage.practice_scope import RecordMerged
from app.storage.privacy import PatientMerge
from app.storage.recall import RecallItem
from app.storage.series import SeriesRow
from app.work import recall_contacts, recall_outside
from app.work.actor import Actor, NotAllowed
from app.work.doubles import likely_doubles
from app.work.merge_keys import MOVES, STAYS
from app.work.merges import merge_patients, undo_merge
from app.work.patients import correct_patient, find_patients, register_patient
from tests.making import a_series
from tests.people import TODAY, Practice, a_patient


def twin_of(practice: Practice, name: str = "Ada Stone", number: str = "H200") -> Patient:
    """A second record of the same person."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return register_patient(
            scope,
            practice.front_desk,
            chart_number=number,
            name=name,
            birth_date="1984-05-06",
            phone="01632 960009",
            today=TODAY,
        )


def merged(practice: Practice, kept: str, other: str, actor: Actor | None = None, **choices: str) -> PatientMerge:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return merge_patients(
            scope,
            actor or practice.dentist,
            kept_id=kept,
            merged_id=other,
            choices=choices,
            reason="same person",
            today=TODAY,
        )


def undone(practice: Practice, row: PatientMerge, **with_the_other: list[str]) -> PatientMerge:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        words = {name.replace("__", "."): ids for name, ids in with_the_other.items()}
        return undo_merge(scope, practice.dentist, row.id, with_the_other=words, today=TODAY)


def contact(practice: Practice, patient_id: str) -> str:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return recall_contacts.note_contact(
            scope, practice.front_desk, patient_id, outcome="message", today=TODAY
        ).id


def everything(practice: Practice) -> dict[str, set[tuple[str, ...]]]:
    """Every row that a merge may touch but its own account, versions, and what is worked out."""
    found = {}
    with practice.store.reading() as scope:
        for name in sorted({key[0] for key in patient_keys()} - {"patient_merge", "correction", "recall_item"}):
            columns = [each for each in SQLModel.metadata.tables[name].c if each.name != "version"]
            rows = scope.session.execute(select(*columns))  # type: ignore[call-overload]
            found[name] = {tuple(str(value) for value in row) for row in rows}
    return found


def owner(practice: Practice, series_id: str) -> str:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return scope.get(SeriesRow, series_id, "series").patient_id


def test_every_column_that_points_to_a_patient_is_known_to_the_merge() -> None:
    """A table added later must be told whether it moves."""
    assert set(patient_keys()) == set(MOVES) | set(STAYS)
    assert not set(MOVES) & set(STAYS)


def test_a_likely_double_is_proposed(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        pairs = [(each.one.id, each.other.id) for each in likely_doubles(scope, practice.front_desk)]

    assert pairs == [(kept.id, other.id)]


def test_rows_go_to_the_record_that_stays_and_both_names_find_it(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    series = a_series(practice, patient_id=other.id)
    contact(practice, other.id)

    row = merged(practice, kept.id, other.id)

    assert owner(practice, series.id) == kept.id
    assert len(row.moved["contact_note.patient_id"]) == 1
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert [each.id for each in find_patients(scope, "H200")] == [kept.id]
        assert [each.id for each in find_patients(scope)] == [kept.id]
        lines = scope.all(scope.select(RecallItem))
        assert {each.patient_id for each in lines} == {kept.id}


def test_nothing_new_is_written_on_the_record_that_was_merged(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    merged(practice, kept.id, other.id)

    with pytest.raises(RecordMerged) as led:
        contact(practice, other.id)

    assert led.value.kept_id == kept.id


def test_values_are_chosen_field_by_field(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)

    merged(practice, kept.id, other.id, phone="merged", chart_number="merged")

    with practice.store.reading(practice.dentist.practice_id) as scope:
        stays, gone = scope.find(Patient, kept.id), scope.find(Patient, other.id)
    assert stays is not None
    assert gone is not None
    assert (stays.name, stays.phone, stays.chart_number) == ("Ada Merriweather-Stone", "01632 960009", "H200")
    assert gone.chart_number == "H100"


def test_undoing_leaves_every_row_as_it_was(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    a_series(practice, patient_id=kept.id)
    a_series(practice, patient_id=other.id)
    contact(practice, other.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_outside.record_outside_images(
            scope, practice.dentist, other.id, kind="bitewings", taken_on="2025-02-03", today=TODAY
        )
    before = everything(practice)
    choices = dict.fromkeys(("name", "phone", "chart_number", "birth_date", "chart"), "merged")

    row = merged(practice, kept.id, other.id, **choices)
    between = everything(practice)
    undone(practice, row)

    assert between != before
    assert everything(practice) == before


def test_what_was_made_since_stays_unless_somebody_chooses(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    row = merged(practice, kept.id, other.id)
    stays, goes = a_series(practice, patient_id=kept.id), a_series(practice, "adult-20", kept.id)

    undone(practice, row, series__patient_id=[goes.id])

    assert (owner(practice, stays.id), owner(practice, goes.id)) == (kept.id, other.id)


def test_a_value_that_somebody_changed_since_is_left_and_told(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    row = merged(practice, kept.id, other.id, phone="merged")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_patient(
            scope,
            practice.front_desk,
            kept.id,
            chart_number="H100",
            name="Ada Merriweather-Stone",
            birth_date="1984-05-06",
            phone="01632 960011",
            today=TODAY,
        )

    again = undone(practice, row)

    assert again.stays == {"fields": ["phone"]}
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.get(Patient, kept.id, "patient").phone == "01632 960011"


def test_a_merge_is_undone_once_and_the_later_one_first(practice: Practice) -> None:
    one, two, three = a_patient(practice), twin_of(practice), twin_of(practice, number="H300")
    first = merged(practice, two.id, one.id)
    later = merged(practice, three.id, two.id)

    with pytest.raises(RecordMerged):
        undone(practice, first)
    undone(practice, later)
    undone(practice, first)
    with pytest.raises(FullcountError, match="undone already"):
        undone(practice, first)


def test_the_first_record_of_a_chain_leads_to_the_last(practice: Practice) -> None:
    one, two, three = a_patient(practice), twin_of(practice), twin_of(practice, number="H300")
    merged(practice, two.id, one.id)
    merged(practice, three.id, two.id)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert [each.id for each in find_patients(scope, "H100")] == [three.id]


def test_the_front_desk_merges_unless_both_have_series(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    a_series(practice, patient_id=kept.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        third = register_patient(
            scope, practice.front_desk, chart_number="H3", name="Ada S", birth_date="1984-05-06", today=TODAY
        )
    a_series(practice, patient_id=third.id)

    merged(practice, kept.id, other.id, practice.front_desk)
    with pytest.raises(NotAllowed, match="both have series"):
        merged(practice, kept.id, third.id, practice.front_desk)


def test_a_record_is_not_merged_with_itself(practice: Practice) -> None:
    kept = a_patient(practice)

    with pytest.raises(InputError, match="same record"):
        merged(practice, kept.id, kept.id)


def test_the_version_of_a_moved_series_rises(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    series = a_series(practice, patient_id=other.id)

    merged(practice, kept.id, other.id)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.get(SeriesRow, series.id, "series").version == series.version + 1


def test_a_merge_whose_transaction_fails_leaves_everything(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    before = everything(practice)

    with pytest.raises(InputError):
        merged(practice, kept.id, other.id, phone="perhaps")

    assert everything(practice) == before
