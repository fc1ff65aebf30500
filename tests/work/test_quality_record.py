"""The quality record: grades against targets, notes, signed reports, what plans saved, readings of receptors."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime

import pytest

from app.core.errors import InputError
from app.exchange.shared_data import builtin_templates
from app.storage.series import ExposureRow, SeriesRow
from app.work import close, retakes, review
from app.work.actor import NotAllowed
from app.work.practice import add_receptor
from app.work.quality_figures import Overview, overview
from app.work.quality_grades import grade_history, grade_report
from app.work.quality_period import Period
from app.work.quality_receptors import measure_waiting, record_receptor_reading
from app.work.quality_record import (
    annotate,
    annotations_in,
    choose_scheme,
    scheme_in_force,
    sign_report,
    signed_report,
    withdraw_annotation,
)
from app.work.quality_refresh import bring_up_to_date
from app.work.quality_trends import measured_receptors, receptor_trend
from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.quality_rows import taken

FEBRUARY = datetime(2026, 2, 1, 0, 10, tzinfo=UTC)
YEAR = Period.of_months("2025-04", "2026-03")


def slots_of(template: str) -> list[str]:
    return [slot.id for slot in builtin_templates()[template].required_slots]


def share(rate) -> tuple[int, int]:
    return rate.numerator, rate.denominator


def test_grades_are_held_against_the_targets_of_their_day(practice: Practice) -> None:
    """95 of 100 good: the target of 95 % cannot be told; an own target of 80 % is met."""
    doctor = practice.dentist
    slots = slots_of("bitewings-4")
    for number in range(25):
        series = a_series(practice, "bitewings-4", a_patient(practice, f"H{number}").id)
        ids = taken(practice, series, slots, at=FEBRUARY)
        with practice.store.writing(doctor.practice_id) as scope:
            for place, each in enumerate(ids):
                fault = [{"code": "blank"}] if number < 5 and place == 0 else []
                review.review_exposure(scope, doctor, each, shortfalls=fault)
    with practice.store.writing(doctor.practice_id) as scope:
        choose_scheme(scope, doctor, scheme_id="two-grades-2020", from_day="2025-01-01")
        choose_scheme(
            scope,
            doctor,
            scheme_id="two-grades-2020",
            from_day="2026-03-15",
            own_targets={"A:digital": "80", "A:film": ""},
            reason="many patients with additional needs",
        )
    bring_up_to_date(practice.store, doctor.practice_id)
    with practice.store.reading(doctor.practice_id) as scope:
        before = grade_report(scope, doctor, Period.of_months("2026-02", "2026-02")).lines[0]
        after = grade_report(scope, doctor, YEAR).lines[0]
        history = grade_history(scope, doctor, YEAR)

    assert (share(before.rate), before.target.share, before.verdict) == ((95, 100), 0.95, "too_few")
    assert (after.target.share, after.verdict) == (0.8, "meets")
    assert [part.period.text for part in history] == ["Apr 2025 to Sep 2025", "Oct 2025 to Mar 2026"]


def test_a_scheme_chosen_wrongly_is_refused_by_name(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for words, path in (
            ({"scheme_id": "one-grade"}, "scheme_id"),
            ({"scheme_id": "two-grades-2020", "own_targets": {"A:digital": "101"}}, "own_targets.A:digital"),
            ({"scheme_id": "two-grades-2020", "own_targets": {"A:digital": "90"}}, "reason"),
        ):
            with pytest.raises(InputError) as said:
                choose_scheme(scope, practice.dentist, from_day="2026-01-01", **words)

            assert said.value.path == path


def test_no_scheme_holds_before_its_first_day(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        choose_scheme(scope, practice.dentist, scheme_id="three-grades-1994", from_day="2026-01-01")

        assert scheme_in_force(scope, date(2025, 12, 31)) is None
        assert scheme_in_force(scope, date(2026, 1, 1)).id == "three-grades-1994"


def test_a_note_withdrawn_is_kept_and_no_longer_shown(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        note = annotate(scope, practice.assistant, day="2026-02-03", text="New sensor in room 1")
        shown = annotations_in(scope, practice.dentist, YEAR)
        withdraw_annotation(scope, practice.dentist, note.id)

        assert [(each.day, each.text, each.by) for each in shown] == [
            (date(2026, 2, 3), "New sensor in room 1", practice.assistant.name)
        ]
        assert annotations_in(scope, practice.dentist, YEAR) == ()


def test_a_colleagues_note_is_a_dentists_to_withdraw(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        note = annotate(scope, practice.dentist, day="2026-02-03", text="Training")
        with pytest.raises(NotAllowed):
            withdraw_annotation(scope, practice.assistant, note.id)


def test_a_signed_report_keeps_its_figures_and_the_digest_of_its_file(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = sign_report(scope, practice.dentist, period=YEAR, figures={"retaken": 3}, pdf=b"%PDF-1.7 ...")
        kept = signed_report(scope, practice.dentist, row.id)

    assert kept.figures == {"retaken": 3}
    assert kept.pdf_sha256 == hashlib.sha256(b"%PDF-1.7 ...").hexdigest()
    assert (kept.first, kept.last) == (YEAR.first, YEAR.last)


def full_series(practice: Practice, fault: str) -> tuple[str, dict[str, str]]:
    """Every required view of a full series taken and reviewed once; the upper right molar with a fault."""
    doctor, slots = practice.dentist, slots_of("adult-18")
    series = a_series(practice, "adult-18")
    ids = dict(zip(slots, taken(practice, series, slots, at=FEBRUARY), strict=True))
    with practice.store.writing(doctor.practice_id) as scope:
        for slot, each in ids.items():
            faults = [{"code": fault}] if slot == "UR-molar" else []
            review.review_exposure(scope, doctor, each, shortfalls=faults)
    return series.id, ids


def closed_overview(practice: Practice, series_id: str) -> Overview:
    doctor = practice.dentist
    with practice.store.writing(doctor.practice_id) as scope:
        close.close_series(scope, doctor, series_id, dentist_id=doctor.staff_id, reason="done", at=FEBRUARY)
    bring_up_to_date(practice.store, doctor.practice_id)
    with practice.store.reading(doctor.practice_id) as scope:
        return overview(scope, doctor, YEAR)


def test_a_fault_that_bitewings_make_up_for_is_a_retake_saved(practice: Practice) -> None:
    """Overlapped contacts of a periapical; the bitewings show them: repeating it would add nothing."""
    series_id, _ = full_series(practice, "overlap")
    found = closed_overview(practice, series_id)

    assert (found.every_fault_count, found.plan_count, found.saved) == (1, 0, 1)
    assert share(found.whole.non_diagnostic) == (1, 18)
    assert share(found.missed) == (0, 1)


@pytest.mark.parametrize(("fault", "avoidable"), [("overlap", 1), ("apex_cut_off", 0)])
def test_repeating_it_is_avoidable_only_where_others_showed_all_it_lost(
    practice: Practice, fault: str, avoidable: int
) -> None:
    series_id, _ = full_series(practice, fault)
    doctor = practice.dentist
    with practice.store.writing(doctor.practice_id) as scope:
        retakes.order_retake(scope, doctor, series_id, slot="UR-molar", authorised_by=doctor.staff_id)
        series = scope.get(SeriesRow, series_id, "series")
    (again,) = taken(practice, series, ["UR-molar"], at=FEBRUARY)
    with practice.store.writing(doctor.practice_id) as scope:
        review.review_exposure(scope, doctor, again)
    found = closed_overview(practice, series_id)

    assert share(found.whole.avoidable) == (avoidable, 1)


def with_sensor(practice: Practice) -> str:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return add_receptor(scope, practice.dentist, name="Sensor A", kind="direct_sensor", size="2").id


def test_an_ageing_sensor_is_caught_against_its_own_beginning(practice: Practice) -> None:
    """Noise that grows from the seventh month on."""
    sensor = with_sensor(practice)
    series = a_series(practice)
    taken(practice, series, ["UR-molar"] * 12)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        rows = sorted(scope.all(scope.select(ExposureRow)), key=lambda row: row.position)
        for number, row in enumerate(rows):
            row.receptor_id = sensor
            row.taken_at = datetime(2025 + (3 + number) // 12, (3 + number) % 12 + 1, 5, tzinfo=UTC)
            scope.session.add(row)
            scope.session.flush()
            noise = 0.010 + (0.0002 if number % 2 else -0.0002) + 0.002 * max(0, number - 5)
            record_receptor_reading(scope, row.id, air_grey=0.05, enamel_grey=0.8, noise=noise, sharpness=1.0)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        found = receptor_trend(scope, practice.assistant, sensor, measure="noise", period=YEAR)
        names = measured_receptors(scope, practice.assistant)

    assert names == ((sensor, "Sensor A"),)
    assert found.baseline == 6
    assert [bool(point.chart.signals) for point in found.points[:6]] == [False] * 6
    assert found.points[-1].drift.signal


def test_images_without_a_reading_are_measured_once(practice: Practice) -> None:
    sensor = with_sensor(practice)
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.get(ExposureRow, exposure.id, "image")
        row.receptor_id = sensor
        scope.session.add(row)

    assert measure_waiting(practice.store, practice.assistant) == 1
    assert measure_waiting(practice.store, practice.assistant) == 0
