"""The days of the recall through its use cases: images, prescriptions, charts, birthdays, tables."""

from __future__ import annotations

from datetime import date

import pytest

from app.core.dentition import Dentition, ToothState
from app.core.errors import InputError
from app.storage.recall import RecallItem
from app.work import recall_outside, recall_prescriptions
from app.work.close import close_series
from app.work.patients import correct_patient, save_chart
from app.work.recall_filter import RecallFilter
from app.work.recall_list import recall_page
from app.work.recall_policies import choose_policy
from app.work.recall_recompute import recompute_stale, stale_count
from app.work.recall_tables import policy_in_force, table_in_force
from tests.making import a_series
from tests.people import TODAY, Practice, a_patient
from tests.work.recall_cast import an_adult, differences, line_of, outside


def prescribe(practice: Practice, patient: str, **changes: str) -> str:
    """Bitewings every 12 months."""
    given = {
        "kind": "bitewings",
        "interval_months": "12",
        "reason": "new lesions",
        "ends_on": "2028-03-01",
    } | changes
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return recall_prescriptions.prescribe_recall(scope, practice.dentist, patient, today=TODAY, **given).id


def test_a_registered_patient_stands_on_the_list_at_once(practice: Practice) -> None:
    line = line_of(practice, a_patient(practice).id)

    assert (line.kind, line.state, line.because) == ("review", "open", "no_table")


def test_images_from_elsewhere_set_the_days(practice: Practice) -> None:
    line = line_of(practice, an_adult(practice))

    assert (line.kind, line.basis, line.source) == ("bitewings", "table", "ada_fda_2012")
    assert (line.earliest_on, line.due_on, line.overdue_on) == (
        date(2026, 5, 31),
        date(2026, 11, 30),
        date(2027, 5, 31),
    )


def test_a_wrong_record_of_images_can_be_taken_back(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        wrong = outside(scope, practice, patient, "2026-03-01")
        recall_outside.withdraw_outside_images(scope, practice.front_desk, wrong, TODAY)

    assert line_of(practice, patient).last_on == date(2024, 5, 31)


def test_a_prescription_wins_and_its_withdrawal_gives_way_to_the_table(practice: Practice) -> None:
    patient = an_adult(practice)
    written = prescribe(practice, patient)
    during = line_of(practice, patient)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_prescriptions.withdraw_prescription(scope, practice.dentist, written, TODAY)

    assert (during.basis, during.source, during.due_on) == ("prescription", written, date(2025, 5, 31))
    assert line_of(practice, patient).basis == "table"


def test_a_full_series_comes_and_goes_with_its_prescription(practice: Practice) -> None:
    patient = an_adult(practice)
    written = prescribe(practice, patient, kind="full_series", interval_months="48")
    due_on = line_of(practice, patient, "full_series").due_on
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_prescriptions.withdraw_prescription(scope, practice.dentist, written, TODAY)
        kinds = [each.kind for each in scope.all(scope.select(RecallItem))]

    assert due_on == TODAY
    assert "full_series" not in kinds


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"interval_months": ""}, "interval_months"),
        ({"due_on": "2026-09-01"}, "interval_months"),
        ({"interval_months": "a year"}, "interval_months"),
        ({"interval_months": "2026"}, "interval_months"),
        ({"interval_months": "", "due_on": "1 September"}, "due_on"),
        ({"interval_months": "", "due_on": "2026-03-01"}, "due_on"),
        ({"interval_months": "", "due_on": "2027-09-01", "ends_on": "2027-08-31"}, "ends_on"),
        ({"ends_on": ""}, "ends_on"),
        ({"ends_on": "2026-04-01"}, "ends_on"),
        ({"ends_on": "2062-04-01"}, "ends_on"),
        ({"reason": " "}, "reason"),
        ({"kind": "panorama"}, "kind"),
    ],
)
def test_a_prescription_that_is_not_whole_is_refused(
    practice: Practice, changes: dict[str, str], path: str
) -> None:
    patient = an_adult(practice)

    with pytest.raises(InputError) as told:
        prescribe(practice, patient, **changes)
    assert told.value.path == path
    assert line_of(practice, patient).basis == "table"


def test_closing_a_series_that_showed_nothing_moves_no_day(practice: Practice) -> None:
    patient = an_adult(practice)
    series = a_series(practice, "bitewings-4", patient_id=patient)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        close_series(scope, practice.dentist, series.id, dentist_id=practice.dentist.staff_id, reason="unwell")

    assert line_of(practice, patient).last_on == date(2024, 5, 31)


def test_a_chart_without_teeth_has_nothing_proposed_and_stays_on_the_list(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bare = Dentition(states=dict.fromkeys(Dentition().positions(), ToothState.MISSING))
        save_chart(scope, practice.dentist, patient, bare)
        page = recall_page(scope, RecallFilter(when="none"), TODAY)

    assert [(row.patient.id, row.item.because) for row in page.rows] == [(patient, "no_contacts")]


def test_a_corrected_birth_date_changes_the_age_group(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_patient(
            scope, practice.front_desk, patient, chart_number="H200", name="Ilva Tern",
            birth_date="2010-05-06", reason="as on the card", today=TODAY,
        )  # fmt: skip

    assert line_of(practice, patient).earliest_on == date(2025, 11, 30)


def test_who_comes_of_age_is_worked_out_anew_by_the_calendar(practice: Practice) -> None:
    """At low risk ADA/FDA 2012 gives adolescents 18 to 36 months, adults 24 to 36."""
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        correct_patient(
            scope, practice.front_desk, patient, chart_number="H200", name="Ilva Tern",
            birth_date="2008-03-30", reason="as on the card", today=TODAY,
        )  # fmt: skip
    before = line_of(practice, patient).earliest_on
    with practice.store.writing(practice.dentist.practice_id) as scope:
        done = [recompute_stale(scope, day) for day in (date(2026, 3, 29), date(2026, 3, 30), date(2026, 3, 30))]

    assert (before, line_of(practice, patient).earliest_on) == (date(2025, 11, 30), date(2026, 5, 31))
    assert done == [0, 1, 0]


def test_choosing_another_table_moves_every_date_and_names_it(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        choose_policy(scope, practice.dentist, "fgdp_uk_3", today=TODAY)
        (row,) = recall_page(scope, RecallFilter(when="later"), TODAY).rows

    assert (row.item.patient_id, row.item.due_on) == (patient, date(2026, 5, 31))
    assert row.source.name == "FGDP(UK), 3rd edition"


def test_a_superseded_table_warns_beside_the_date(practice: Practice) -> None:
    an_adult(practice)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (row,) = recall_page(scope, RecallFilter(when="later"), TODAY).rows

    assert row.source.warns
    assert "superseded: ADA/AAOMR patient-selection recommendations, January 2026" in row.source.status


def test_edited_months_are_kept_and_marked_as_edited(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        choose_policy(scope, practice.dentist, "ada_fda_2012", months={8: ("20", "30")}, today=TODAY)
        table, policy = table_in_force(scope), policy_in_force(scope)

    assert table is not None
    assert policy is not None
    assert (policy.edited, table.edited) == (True, True)
    assert table.status_words().startswith("edited by the practice")
    assert line_of(practice, patient).earliest_on == date(2026, 1, 31)


@pytest.mark.parametrize("typed", [("36", "24"), ("x", "24"), ("0", "24"), ("", "")])
def test_months_that_cannot_be_are_refused(practice: Practice, typed: tuple[str, str]) -> None:
    with pytest.raises(InputError) as told, practice.store.writing(practice.dentist.practice_id) as scope:
        choose_policy(scope, practice.dentist, "ada_fda_2012", months={8: typed}, today=TODAY)
    assert told.value.path == "rows[8]"


def test_a_policy_waits_to_be_worked_out_for_those_beyond_the_first_step(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    an_adult(practice)
    a_patient(practice)
    monkeypatch.setattr("app.work.recall_policies.FIRST_STEP", 1)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        choose_policy(scope, practice.dentist, "none", today=TODAY)
        waiting = stale_count(scope, TODAY)
        recompute_stale(scope, TODAY)
        left, wrong = stale_count(scope, TODAY), differences(scope, TODAY)

    assert (waiting, left, wrong) == (1, 0, [])
