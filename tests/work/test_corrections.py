"""Corrections keep their history: old value, new value, who, when and why."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from app.core.dentition import Dentition, ToothState
from app.core.errors import InputError
from app.storage.series import SeriesRow
from app.work import assign, patients, review
from app.work.actor import NotAllowed
from app.work.close import close_series
from app.work.correction_history import ShownCorrection, corrections_of_patient
from app.work.exposure_details import ExposureDetails, correct_exposure_details
from app.work.incoming import TubeSettings
from tests.making import a_series, loaded
from tests.people import TODAY, Practice, a_patient

WORDS = {"chart_number": "H100", "name": "Ada Merriweather-Stone", "birth_date": "1984-05-06"}


def history(practice: Practice, patient_id: str) -> list[ShownCorrection]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return corrections_of_patient(scope, practice.dentist, patient_id)


def correct(practice: Practice, patient_id: str, **changes: str) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        patients.correct_patient(scope, practice.front_desk, patient_id, **(WORDS | changes), today=TODAY)


def test_a_corrected_name_leaves_old_value_new_value_who_and_why(practice: Practice) -> None:
    patient = a_patient(practice)

    correct(practice, patient.id, name="Ada Stone", reason="married")

    (line,) = history(practice, patient.id)
    assert (line.field, line.before, line.after) == ("name", "Ada Merriweather-Stone", "Ada Stone")
    assert (line.reason, line.by) == ("married", "Pell Orcutt")


def test_a_corrected_birth_date_is_kept_as_a_day(practice: Practice) -> None:
    patient = a_patient(practice)

    correct(practice, patient.id, birth_date="1984-06-05", reason="day and month exchanged")

    (line,) = history(practice, patient.id)
    assert (line.before, line.after) == ("1984-05-06", "1984-06-05")


@pytest.mark.parametrize("change", [{"name": "Else"}, {"birth_date": "1984-05-07"}, {"chart_number": "H1"}])
def test_who_somebody_is_needs_a_reason(practice: Practice, change: dict[str, str]) -> None:
    patient = a_patient(practice)

    with pytest.raises(InputError, match="say why") as refused:
        correct(practice, patient.id, **change)

    assert refused.value.path == "reason"
    assert history(practice, patient.id) == []


def test_a_phone_number_needs_none_and_its_first_recording_is_no_correction(practice: Practice) -> None:
    patient = a_patient(practice)

    correct(practice, patient.id, phone="01632 960001")
    correct(practice, patient.id, phone="01632 960002")

    (line,) = history(practice, patient.id)
    assert (line.before, line.after, line.reason) == ("01632 960001", "01632 960002", "")


def test_keeping_a_form_without_a_change_corrects_nothing(practice: Practice) -> None:
    patient = a_patient(practice)

    correct(practice, patient.id)

    assert history(practice, patient.id) == []


def test_a_chart_is_corrected_tooth_by_tooth_in_one_line(practice: Practice) -> None:
    patient = a_patient(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        chart = Dentition(states={"18": ToothState.MISSING})
        patients.save_chart(scope, practice.assistant, patient.id, chart)

    (line,) = history(practice, patient.id)

    assert (line.field, line.before, line.after) == ("dentition chart", "18 as usual", "18 missing")


def test_loading_and_the_first_review_are_no_corrections(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        assign.keep_assignment(scope, practice.assistant, series.id, {exposure.id: "UR-molar"})
    with practice.store.writing(practice.dentist.practice_id) as scope:
        review.review_exposure(scope, practice.assistant, exposure.id, shortfalls=[{"code": "cone_cut"}])

    assert history(practice, series.patient_id) == []


def test_a_second_review_leaves_the_first(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    for shortfalls, reason in (([{"code": "cone_cut"}], ""), ([], "looked again")):
        with practice.store.writing(practice.dentist.practice_id) as scope:
            review.review_exposure(scope, practice.dentist, exposure.id, shortfalls=shortfalls, reason=reason)

    (line,) = history(practice, series.patient_id)

    assert (line.field, line.before, line.after) == ("shortfalls", "cone cut", "nothing")
    assert (line.reason, line.by) == ("looked again", "Dr Wilna Achterberg")


def test_a_review_taken_back_and_made_anew_keeps_every_step(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    for step in ("review", "reopen", "review"):
        with practice.store.writing(practice.dentist.practice_id) as scope:
            if step == "reopen":
                review.reopen_review(scope, practice.assistant, exposure.id)
            else:
                review.review_exposure(scope, practice.assistant, exposure.id)

    lines = [(each.field, each.before, each.after) for each in reversed(history(practice, series.patient_id))]

    assert lines == [("review", "reviewed", "not reviewed"), ("review", "not reviewed", "reviewed")]


def test_setting_aside_a_placed_image_keeps_the_slot_it_had(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    for step in ("aside", "back"):
        with practice.store.writing(practice.dentist.practice_id) as scope:
            if step == "aside":
                assign.set_aside(scope, practice.assistant, exposure.id, "a test shot")
            else:
                assign.put_back(scope, practice.assistant, exposure.id)

    lines = {(each.field, each.before, each.after) for each in history(practice, series.patient_id)}

    assert lines == {("set aside", "a test shot", "nothing"), ("slot", "UR-molar", "nothing")}


def details(practice: Practice, **changes: object) -> ExposureDetails:
    words = {
        "operator_id": practice.dentist.staff_id,
        "receptor_id": None,
        "tube": TubeSettings(kv=65, ma=7, seconds=0.2),
        "taken_at": datetime(2026, 3, 27, 9, 30, tzinfo=UTC),
    }
    return ExposureDetails(**(words | changes))  # type: ignore[arg-type]


def test_operator_settings_and_time_are_corrected_and_the_series_counts_on(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        before = scope.get(SeriesRow, series.id, "series").version
        correct_exposure_details(scope, practice.assistant, exposure.id, details(practice), reason="wrong log-in")
        after = scope.get(SeriesRow, series.id, "series").version

    lines = {each.field: (each.before, each.after) for each in history(practice, series.patient_id)}

    assert after == before + 1
    assert lines["taken by"] == ("Tomke Rill", "Dr Wilna Achterberg")
    assert set(lines) == {"taken by", "taken at"}, "settings were recorded for the first time"


def test_without_a_reason_nothing_of_an_exposure_is_corrected(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")

    with (
        pytest.raises(InputError) as refused,
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        correct_exposure_details(scope, practice.assistant, exposure.id, details(practice), reason=" ")

    assert refused.value.path == "reason"
    assert history(practice, series.patient_id) == []


def test_after_closing_only_a_dentist_corrects_how_an_image_was_taken(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        close_series(scope, practice.dentist, series.id, dentist_id=practice.dentist.staff_id, reason="unwell")

    with (
        pytest.raises(NotAllowed, match="closed series"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        correct_exposure_details(scope, practice.assistant, exposure.id, details(practice), reason="x")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_exposure_details(scope, practice.dentist, exposure.id, details(practice), reason="x")

    assert len(history(practice, series.patient_id)) == 2


def test_a_correction_that_fails_leaves_no_line(practice: Practice) -> None:
    patient = a_patient(practice)

    def begin_and_fail() -> None:
        with practice.store.writing(practice.dentist.practice_id) as scope:
            patients.correct_patient(
                scope, practice.dentist, patient.id, **(WORDS | {"name": "Else", "reason": "x"}), today=TODAY
            )
            scope.session.flush()
            raise ValueError("later")

    with pytest.raises(ValueError, match="later"):
        begin_and_fail()

    assert history(practice, patient.id) == []


def test_the_front_desk_reads_no_corrections_of_images_or_charts(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_exposure_details(scope, practice.dentist, exposure.id, details(practice), reason="x")
        patients.save_chart(
            scope, practice.dentist, series.patient_id, Dentition(states={"18": ToothState.MISSING})
        )

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert corrections_of_patient(scope, practice.front_desk, series.patient_id) == []
