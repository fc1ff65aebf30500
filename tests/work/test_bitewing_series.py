"""A set of bitewings need not show the rest of the mouth, and says so of every target, with a reason."""

from __future__ import annotations

import pytest

from app.core.coverage import Audit
from app.core.dentition import Dentition, ToothState, asked_targets
from app.exchange.audit_report import audit_report
from app.storage.series import SeriesRow
from app.work.audit_series import BITEWING_EXEMPTION, audit_of, frozen_template, slot_shows
from app.work.close import close_series
from app.work.patients import save_chart
from app.work.review import review_exposure
from tests.making import a_series, loaded
from tests.people import Practice, a_patient

BITEWING_SETS = ["bitewings-2", "bitewings-4"]


def audited(practice: Practice, series: SeriesRow) -> Audit:
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return audit_of(scope, series.id).audit


def no_third_molars(practice: Practice) -> str:
    """A patient whose last teeth are the second molars."""
    patient = a_patient(practice)
    chart = Dentition(states=dict.fromkeys(("18", "28", "38", "48"), ToothState.MISSING))
    with practice.store.writing(practice.assistant.practice_id) as scope:
        save_chart(scope, practice.assistant, patient.id, chart)
    return patient.id


def take_every_view(practice: Practice, series: SeriesRow) -> None:
    """A good image, reviewed, in every required slot."""
    for number, slot in enumerate(frozen_template(series).required_slots, start=1):
        exposure = loaded(practice, series, number, slot=slot.id)
        with practice.store.writing(practice.assistant.practice_id) as scope:
            review_exposure(scope, practice.assistant, exposure.id)


@pytest.mark.parametrize("template", BITEWING_SETS)
def test_every_target_is_either_shown_by_a_slot_or_exempt_with_the_reason(
    practice: Practice, template: str
) -> None:
    series = a_series(practice, template)
    audit = audited(practice, series)
    frozen = frozen_template(series)
    shown = {target for slot in frozen.required_slots for target in slot_shows(frozen, slot.id, Dentition())}

    exempt = {each.target for each in audit.exempt}
    assert exempt == set(asked_targets(Dentition())) - shown
    assert set(audit.asked) == set(asked_targets(Dentition())) & shown
    assert {each.reason for each in audit.exempt} == {BITEWING_EXEMPTION}


@pytest.mark.parametrize("template", BITEWING_SETS)
def test_no_apex_and_no_front_tooth_is_asked_of_bitewings(practice: Practice, template: str) -> None:
    audit = audited(practice, a_series(practice, template))

    assert [target for target in audit.asked if target.startswith("apex:")] == []
    assert "crown:11" not in audit.asked
    assert "contact:17-16" in audit.asked


@pytest.mark.parametrize("template", BITEWING_SETS)
def test_a_good_set_is_complete_and_still_lists_what_is_exempt(practice: Practice, template: str) -> None:
    series = a_series(practice, template, patient_id=no_third_molars(practice))
    take_every_view(practice, series)
    audit = audited(practice, series)
    report = audit_report(audit)

    assert audit.verdict == "complete"
    assert report["counts"]["exempt"] == len(report["exempt"]) > 0
    assert {each["reason"] for each in report["exempt"]} == {BITEWING_EXEMPTION}


def test_what_only_a_supplementary_view_shows_is_no_part_of_the_examination(practice: Practice) -> None:
    """One bitewing a side does not reach erupted third molars; the prescribed views decide what is asked for."""
    series = a_series(practice, "bitewings-2")
    take_every_view(practice, series)
    audit = audited(practice, series)

    assert audit.verdict == "complete"
    assert "contact:18-17" in {each.target for each in audit.exempt}


def test_the_sign_off_keeps_the_exemptions(practice: Practice) -> None:
    series = a_series(practice, "bitewings-4")
    take_every_view(practice, series)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        kept = close_series(scope, practice.assistant, series.id)

    assert kept.verdict == "complete"
    assert {each["reason"] for each in kept.audit["exempt"]} == {BITEWING_EXEMPTION}


def test_a_bitewing_set_with_a_missing_view_is_incomplete(practice: Practice) -> None:
    """Exemptions do not cover what the set is for."""
    series = a_series(practice, "bitewings-4")

    assert audited(practice, series).verdict == "incomplete"


def test_a_full_mouth_series_is_exempt_from_nothing(practice: Practice) -> None:
    assert audited(practice, a_series(practice, "adult-18")).exempt == ()


def test_the_exemptions_follow_the_chart(practice: Practice) -> None:
    """A front tooth that is gone is exempt as a ridge, no longer as a crown."""
    patient = a_patient(practice)
    series = a_series(practice, "bitewings-4", patient_id=patient.id)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        save_chart(scope, practice.assistant, patient.id, Dentition(states={"11": ToothState.MISSING}))
    exempt = {each.target for each in audited(practice, series).exempt}

    assert "ridge:11" in exempt
    assert "crown:11" not in exempt
