"""A chart once saved is remembered; open series follow it, closed ones stay as they were."""

from __future__ import annotations

import pytest

from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.errors import InputError
from app.storage.people import Patient
from app.storage.series import ExposureRow, SeriesRow
from app.work.audit_series import audit_of
from app.work.charts import chart_of, read_chart, write_chart
from app.work.close import close_series, sign_off_of
from app.work.patients import save_chart
from app.work.review import review_exposure
from tests.making import a_series, loaded
from tests.people import Practice, a_patient

LOST_16 = Dentition(states={"16": ToothState.MISSING})
ODD = Dentition(
    states={"14": ToothState.MISSING, "36": ToothState.IMPLANT, "48": ToothState.UNERUPTED},
    roots={"24": ("R",), "17": ("B", "P")},
    closed_spaces=(("15", "13"),),
)


def save(practice: Practice, patient_id: str, chart: Dentition) -> None:
    with practice.store.writing(practice.assistant.practice_id) as scope:
        save_chart(scope, practice.assistant, patient_id, chart)


def reviewed(practice: Practice, series: SeriesRow, *targets: str) -> ExposureRow:
    """An image of the upper right molars, reviewed: all there, or apices cut off at some targets."""
    exposure = loaded(practice, series, slot="UR-molar")
    shortfalls = [{"code": "apex_cut_off", "targets": list(targets)}] if targets else []
    with practice.store.writing(practice.assistant.practice_id) as scope:
        return review_exposure(scope, practice.assistant, exposure.id, shortfalls=shortfalls)


def is_reviewed(practice: Practice, exposure: ExposureRow) -> bool:
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return scope.get(ExposureRow, exposure.id, "image").reviewed


@pytest.mark.parametrize("chart", [Dentition(), LOST_16, ODD, Dentition(kind="primary")], ids=range(4))
def test_a_saved_chart_is_remembered_whole(practice: Practice, chart: Dentition) -> None:
    patient = a_patient(practice)
    save(practice, patient.id, chart)

    with practice.store.reading(practice.assistant.practice_id) as scope:
        assert chart_of(scope.get(Patient, patient.id, "patient")) == chart


def test_a_chart_is_written_as_it_is_read() -> None:
    assert read_chart(write_chart(ODD)) == ODD


@pytest.mark.parametrize(
    ("data", "path"),
    [
        ({"dentition_kind": "permanent", "dentition": {"19": "missing"}}, "dentition.19"),
        ({"dentition_kind": "permanent", "dentition": {"16": "mising"}}, "dentition.16"),
        ({"dentition_kind": "permanent", "roots": {"16": ["X"]}}, "roots.16"),
        ({"dentition_kind": "permanent", "closed_spaces": ["15-13"]}, "closed_spaces[0]"),
        ({"dentition_kind": "permanent", "teeth": {}}, "teeth"),
    ],
)
def test_a_chart_that_cannot_be_names_its_field(data: dict[str, object], path: str) -> None:
    with pytest.raises(InputError) as refused:
        read_chart(data)

    assert refused.value.path.startswith(path)


def test_a_new_series_begins_with_the_saved_chart(practice: Practice) -> None:
    patient = a_patient(practice)
    save(practice, patient.id, ODD)
    series = a_series(practice, patient_id=patient.id)

    with practice.store.reading(practice.assistant.practice_id) as scope:
        audit = audit_of(scope, series.id).audit
    assert set(audit.asked) == set(asked_targets(ODD))


def test_an_open_series_follows_the_chart(practice: Practice) -> None:
    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)
    save(practice, patient.id, LOST_16)

    with practice.store.reading(practice.assistant.practice_id) as scope:
        audit = audit_of(scope, series.id).audit
        version = scope.get(SeriesRow, series.id, "series").version
    assert "ridge:16" in audit.asked
    assert "crown:16" not in audit.asked
    assert version == series.version + 1


def test_a_closed_series_does_not_follow(practice: Practice) -> None:
    patient = a_patient(practice)
    series = a_series(practice, patient_id=patient.id)
    exposure = reviewed(practice, series, "apex:16:MB")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        close_series(scope, practice.assistant, series.id, dentist_id=practice.dentist.staff_id, reason="unwell")
        before = scope.get(SeriesRow, series.id, "series").model_dump()
    save(practice, patient.id, LOST_16)

    assert is_reviewed(practice, exposure)
    with practice.store.reading(practice.assistant.practice_id) as scope:
        assert scope.get(SeriesRow, series.id, "series").model_dump() == before
        assert "crown:16" in audit_of(scope, series.id).audit.asked
        signed = sign_off_of(scope, series.id)
    assert signed is not None
    assert any(gap["target"] == "apex:16:MB" for gap in signed.audit["gaps"])


def test_another_patients_series_does_not_follow(practice: Practice) -> None:
    patient, other = a_patient(practice), a_patient(practice, "H200")
    series = a_series(practice, patient_id=other.id)
    save(practice, patient.id, LOST_16)

    with practice.store.reading(practice.assistant.practice_id) as scope:
        assert "crown:16" in audit_of(scope, series.id).audit.asked


def test_a_review_that_named_a_root_which_is_gone_is_opened_again(practice: Practice) -> None:
    """One root instead of three: what was said of the mesiobuccal apex says nothing of it."""
    patient = a_patient(practice)
    exposure = reviewed(practice, a_series(practice, patient_id=patient.id), "apex:16:MB")
    save(practice, patient.id, Dentition(roots={"16": ("R",)}))

    assert not is_reviewed(practice, exposure)
    with practice.store.reading(practice.assistant.practice_id) as scope:
        audit = audit_of(scope, exposure.series_id).audit
    assert audit.gap("apex:16:R") is not None
    assert "apex:16:R" not in audit.coverage


def test_a_tooth_newly_charted_must_be_looked_for_on_images_reviewed_before(practice: Practice) -> None:
    patient = a_patient(practice)
    save(practice, patient.id, LOST_16)
    exposure = reviewed(practice, a_series(practice, patient_id=patient.id))
    save(practice, patient.id, Dentition())

    assert not is_reviewed(practice, exposure)


def test_a_review_stands_where_the_change_is_elsewhere(practice: Practice) -> None:
    patient = a_patient(practice)
    exposure = reviewed(practice, a_series(practice, patient_id=patient.id), "apex:16:MB")
    save(practice, patient.id, Dentition(states={"34": ToothState.MISSING}, roots={"26": ("B", "P")}))

    assert is_reviewed(practice, exposure)


def test_a_chart_that_only_writes_out_the_usual_roots_leaves_reviews_standing(practice: Practice) -> None:
    patient = a_patient(practice)
    exposure = reviewed(practice, a_series(practice, patient_id=patient.id), "apex:17:P")
    save(practice, patient.id, Dentition(roots={"17": ("MB", "DB", "P")}))

    assert is_reviewed(practice, exposure)
