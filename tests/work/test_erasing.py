"""Records past their term: found by the rule, kept by a hold, erased by two people."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from sqlmodel import SQLModel, select

from app.core.errors import FullcountError, InputError
from app.storage.erased_records import RecordErased
from app.storage.erasing import ERASING
from app.storage.image_store import ImageStore
from app.storage.patient_rows import tables_about_patients
from app.storage.people import Patient, Staff
from app.storage.practice_scope import NotFound
from app.storage.privacy import Correction, Erasure
from app.storage.series import ExposureRow, ImageRow
from app.work import erasing, patients, retention, retention_holds
from app.work.accounts import actor_of
from app.work.actor import Actor, NotAllowed
from app.work.assign import set_aside
from app.work.close import close_series
from app.work.load_images import load_image
from app.work.patients import find_patients
from tests.making import a_series, image_file, loaded
from tests.people import TODAY, Practice, a_patient
from tests.work.test_merges import contact, merged, twin_of

LATER = date(2071, 1, 1)
NAMES = ("Merriweather", "H100", "Zeppelin", "01632", "secretly")


def choose(practice: Practice, key: str = "cautious", **own: str) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retention.choose_rule(scope, practice.dentist, key=key, **own)


def past(practice: Practice, today: date = LATER) -> list[str]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return [each.patient.id for each in retention.records_past_term(scope, practice.dentist, today)]


def hold(practice: Practice, patient_id: str, until_on: str = "") -> str:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return retention_holds.place_retention_hold(
            scope, practice.dentist, patient_id, kind="dispute", note="case 7", until_on=until_on, today=TODAY
        ).id


def confirmed(practice: Practice, patient_id: str, today: date = LATER) -> str:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return erasing.confirm_erasing(scope, practice.dentist, patient_id, today).id


def erased(practice: Practice, erasure_id: str, actor: Actor | None = None, **more: str) -> Erasure:
    return erasing.carry_out_erasing(
        practice.store, actor or practice.administrator, erasure_id, today=LATER, **more
    )


def full_record(practice: Practice) -> tuple[Patient, str]:
    """A patient with two images, words everywhere, a correction and a contact; and the closed series."""
    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)
    exposure = loaded(practice, series, slot="UR-molar", name="Merriweather.png")
    other = loaded(practice, series, 2, name="Zeppelin.png")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        set_aside(scope, practice.dentist, other.id, "Zeppelin moved secretly")
        patients.correct_patient(
            scope,
            practice.dentist,
            patient.id,
            chart_number="H100",
            name="Ada Zeppelin",
            birth_date="1984-05-06",
            phone="01632 960001",
            reason="married secretly",
            today=TODAY,
        )
        close_series(
            scope, practice.dentist, series.id, dentist_id=practice.dentist.staff_id, reason="Zeppelin left"
        )
    contact(practice, patient.id)
    assert exposure.series_id == series.id
    return patient, series.id


def whole_database(practice: Practice) -> str:
    with practice.store.reading() as scope:
        return "\n".join(
            str(row) for table in SQLModel.metadata.sorted_tables for row in scope.session.execute(select(table))
        )


def test_every_table_with_a_path_to_a_patient_is_told_what_erasing_does_to_it() -> None:
    assert set(ERASING) == set(tables_about_patients())


def test_without_a_rule_nothing_is_past_its_term(practice: Practice) -> None:
    a_patient(practice)

    assert past(practice) == []


def test_a_record_is_past_its_term_from_the_day_that_the_rule_says(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice, "own", years="5", reason="our chamber's rule")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        made = scope.get(Patient, patient.id, "patient").created_at.date()
    term = made.replace(year=made.year + 5, day=min(made.day, 28))

    assert past(practice, term.replace(year=term.year - 1)) == []
    assert past(practice, date(made.year + 6, 1, 1)) == [patient.id]


def test_an_own_rule_says_what_it_rests_on(practice: Practice) -> None:
    with pytest.raises(InputError) as refused:
        choose(practice, "own", years="5")

    assert refused.value.path == "reason"


@pytest.mark.parametrize("years", ["", "0", "many", "101", "-3", "²"])
def test_years_that_cannot_be_are_refused(practice: Practice, years: str) -> None:
    with pytest.raises(InputError) as refused:
        choose(practice, "own", years=years, reason="x")

    assert refused.value.path == "years"


def test_a_hold_keeps_a_record_and_ends_by_lifting(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    hold_id = hold(practice, patient.id)

    with pytest.raises(FullcountError, match="a hold keeps this record"):
        confirmed(practice, patient.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retention_holds.lift_retention_hold(scope, practice.dentist, hold_id)
    assert confirmed(practice, patient.id)


def test_a_hold_ends_after_its_last_day(practice: Practice) -> None:
    patient = a_patient(practice)
    hold(practice, patient.id, "2027-01-31")

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert len(retention.holds_in_force(scope, date(2027, 1, 31))) == 1
        assert retention.holds_in_force(scope, date(2027, 2, 1)) == []


def test_erasing_leaves_no_name_number_word_or_picture_and_every_exposure(practice: Practice) -> None:
    patient, series_id = full_record(practice)
    choose(practice)

    row = erased(practice, confirmed(practice, patient.id))

    left = whole_database(practice)
    assert [name for name in NAMES if name in left] == []
    assert practice.store.images.names() == []
    with practice.store.reading(practice.dentist.practice_id) as scope:
        gone = scope.get(Patient, patient.id, "patient")
        exposures = scope.all(scope.select(ExposureRow).where(ExposureRow.series_id == series_id))
        assert (gone.birth_date, find_patients(scope)) == (date(1984, 1, 1), [])
        assert [each.slot for each in exposures] == ["UR-molar", None]
        assert scope.all(scope.select(Correction))[0].before == {}
        assert erasing.left_files(scope) == 0
    assert row.carried_out_by == practice.administrator.staff_id


def test_the_file_on_disk_holds_the_name_no_more(practice: Practice) -> None:
    """Overwritten in the database file and its log, not only taken out of the tables."""
    patient, _ = full_record(practice)
    choose(practice)
    erased(practice, confirmed(practice, patient.id))
    practice.store.close()

    kept = b"".join(each.read_bytes() for each in practice.store.folder.glob("fullcount.sqlite3*"))
    assert b"Zeppelin" not in kept
    assert b"Merriweather" not in kept


def test_an_image_that_another_patient_s_series_names_stays(practice: Practice) -> None:
    patient, _ = full_record(practice)
    other = a_series(practice, patient_id=twin_of(practice, "Bo Tarn").id)
    load_image(
        practice.store, practice.assistant, other.id, data=image_file(1), name="a.png", slot="UR-molar", sure=True
    )
    choose(practice)

    erased(practice, confirmed(practice, patient.id))

    with practice.store.reading(practice.dentist.practice_id) as scope:
        kept = [each.sha256 for each in scope.all(scope.select(ImageRow)) if not each.sha256.startswith("erased-")]
    assert practice.store.images.names() == kept
    assert len(kept) == 1


def test_files_that_a_crash_left_are_told_and_taken_away_later(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    patient, _ = full_record(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)

    def refuse(_self: ImageStore, _sha256: str) -> None:
        raise OSError("read-only")

    with monkeypatch.context() as patch:
        patch.setattr(ImageStore, "remove", refuse)
        erased(practice, erasure_id)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        told = erasing.left_files(scope)

    assert (told, len(practice.store.images.names())) == (2, 2)
    assert erasing.remove_left_files(practice.store, practice.administrator) == 0
    assert practice.store.images.names() == []


def test_a_transaction_that_fails_erases_nothing(practice: Practice, monkeypatch: pytest.MonkeyPatch) -> None:
    patient, _ = full_record(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    before = whole_database(practice)

    def fail(*_: object) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr("app.storage.erasing._erase_words", fail)
    with pytest.raises(OSError, match="full"):
        erased(practice, erasure_id)

    assert whole_database(practice) == before
    assert len(practice.store.images.names()) == 2


def test_who_confirmed_it_does_not_carry_it_out_where_somebody_else_can(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        doctor = scope.get(Staff, practice.dentist.staff_id, "colleague")
        doctor.administers = True
        scope.session.add(doctor)
        both = actor_of(doctor)

    with pytest.raises(NotAllowed, match="second person"):
        erased(practice, erasure_id, both, chart_number="H100")


def test_in_a_practice_of_one_the_chart_number_is_typed(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for each in scope.all(scope.select(Staff)):
            each.retired = each.id != practice.dentist.staff_id
            each.administers = not each.retired
            scope.session.add(each)
        both = actor_of(scope.get(Staff, practice.dentist.staff_id, "colleague"))

    with pytest.raises(InputError, match="type the chart number"):
        erased(practice, erasure_id, both, chart_number="H10")
    assert erased(practice, erasure_id, both, chart_number="H100").carried_out_at is not None


def test_a_hold_placed_after_the_confirmation_still_keeps_it(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    hold(practice, patient.id)

    with pytest.raises(FullcountError, match="a hold keeps"):
        erased(practice, erasure_id)


def test_a_withdrawn_erasing_is_not_carried_out(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        erasing.withdraw_erasing(scope, practice.dentist, erasure_id)

    with pytest.raises(FullcountError, match="withdrawn already"):
        erased(practice, erasure_id)


def test_an_open_series_is_closed_first(practice: Practice) -> None:
    patient = a_patient(practice)
    a_series(practice, patient_id=patient.id)
    choose(practice)

    with pytest.raises(FullcountError, match="Close it first"):
        confirmed(practice, patient.id)


def test_a_record_merged_into_an_erased_one_goes_with_it(practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice, "Ada Zeppelin-Stone")
    merged(practice, kept.id, other.id, name="merged")
    choose(practice)

    erased(practice, confirmed(practice, kept.id))

    left = whole_database(practice)
    assert [name for name in ("Zeppelin", "H200", "H100", "Merriweather") if name in left] == []


@pytest.mark.parametrize("role", ["dentist", "assistant", "front_desk"])
def test_only_who_administers_the_program_carries_it_out(practice: Practice, role: str) -> None:
    patient = a_patient(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    actor: Actor = getattr(practice, role)

    with pytest.raises(NotAllowed):
        erased(practice, erasure_id, actor)
    with pytest.raises(NotAllowed):
        erasing.remove_left_files(practice.store, actor)


def test_an_erasing_of_another_practice_is_not_there(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    erasure_id = confirmed(practice, patient.id)
    stranger = replace(practice.stranger, administers=True)

    with pytest.raises(NotFound):
        erased(practice, erasure_id, stranger)


def test_nothing_new_is_written_on_an_erased_record(practice: Practice) -> None:
    patient = a_patient(practice)
    choose(practice)
    erased(practice, confirmed(practice, patient.id))

    with pytest.raises(RecordErased):
        contact(practice, patient.id)
    with pytest.raises(RecordErased):
        a_series(practice, patient_id=patient.id)
    with pytest.raises(RecordErased), practice.store.writing(practice.dentist.practice_id) as scope:
        patients.correct_patient(
            scope, practice.dentist, patient.id, chart_number="H100", name="Ada", birth_date="1984-05-06",
            reason="back again", today=TODAY,
        )  # fmt: skip
