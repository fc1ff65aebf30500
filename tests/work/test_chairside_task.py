"""The whole chairside task through the use cases, on a real database and real files."""

from __future__ import annotations

import pytest

from app.core.errors import InputError
from app.core.templates import Template
from app.storage.series import SeriesRow
from app.work.assign import keep_assignment, propose_assignment, put_back, set_aside
from app.work.audit_series import audit_of, frozen_template
from app.work.close import close_series, sign_off_of
from app.work.incoming import AlreadyHere, SameFileElsewhere
from app.work.load_images import load_image
from app.work.retakes import order_retake, orders_of, withdraw_order
from app.work.review import reopen_review, review_exposure, save_view
from app.work.start_series import SeriesClosed
from tests.making import a_series, image_file, loaded
from tests.people import Practice, a_patient


def fill(practice: Practice, series: SeriesRow) -> dict[str, str]:
    """Eighteen files at once, the proposal kept, every image reviewed as good: exposure ids by slot."""
    template: Template = frozen_template(series)
    for number, slot in enumerate(template.required_slots, start=1):
        assert slot.receptor is not None
        loaded(practice, series, number, upright=slot.receptor.orientation == "portrait")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        proposals = propose_assignment(scope, series.id)
        keep_assignment(scope, practice.assistant, series.id, {each.exposure_id: each.slot for each in proposals})
        for each in proposals:
            review_exposure(scope, practice.assistant, each.exposure_id)
    assert not [each.warning for each in proposals if each.warning]
    return {str(each.slot): each.exposure_id for each in proposals}


def test_from_eighteen_files_through_a_retake_to_a_closed_complete_series(practice: Practice) -> None:
    """Three faults, one made up for by a neighbour, two retakes planned, taken, complete, closed."""
    series = a_series(practice)
    by_slot = fill(practice, series)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        review_exposure(scope, practice.assistant, by_slot["UR-molar"], shortfalls=[{"code": "apex_cut_off"}])
        review_exposure(scope, practice.assistant, by_slot["LL-canine"], shortfalls=[{"code": "blurred"}])
        review_exposure(scope, practice.assistant, by_slot["UL-premolar"], shortfalls=[{"code": "overlap"}])
        faulty = audit_of(scope, series.id).audit
    assert faulty.verdict == "incomplete"
    assert [planned.slot for planned in faulty.plan.exposures] == ["LL-canine", "UR-molar"]
    assert faulty.plan.repeat_every_fault_count == 3
    assert [made_up.slot for made_up in faulty.made_up_for] == ["UL-premolar"]

    for number, slot in ((101, "LL-canine"), (102, "UR-molar")):
        with practice.store.writing(practice.assistant.practice_id) as scope:
            order_retake(scope, practice.assistant, series.id, slot=slot, authorised_by=practice.dentist.staff_id)
        retake = loaded(practice, series, number, slot=slot)
        assert retake.retake_of == by_slot[slot]
        with practice.store.writing(practice.assistant.practice_id) as scope:
            review_exposure(scope, practice.assistant, retake.id)

    with practice.store.writing(practice.assistant.practice_id) as scope:
        assert audit_of(scope, series.id).audit.verdict == "complete"
        assert orders_of(scope, series.id) == []
        close_series(scope, practice.assistant, series.id)
    with practice.store.reading(practice.assistant.practice_id) as scope:
        kept = sign_off_of(scope, series.id)
    assert kept is not None
    assert kept.audit["verdict"] == "complete"
    with pytest.raises(SeriesClosed):
        loaded(practice, series, 999)


def test_the_same_file_is_refused_for_a_second_slot_by_name(practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1, slot="UR-molar")

    with pytest.raises(AlreadyHere, match="already image 1 of this series, in Upper right molar"):
        loaded(practice, series, 1, slot="UL-molar")


def test_the_same_file_under_another_patient_stops_until_somebody_is_sure(practice: Practice) -> None:
    loaded(practice, a_series(practice), 1)
    other = a_series(practice, patient_id=a_patient(practice, "H200").id)

    with pytest.raises(SameFileElsewhere, match="another patient, chart H100"):
        loaded(practice, other, 1)

    data = image_file(1)
    taken = load_image(practice.store, practice.assistant, other.id, data=data, name="a.png", sure=True)
    assert taken.exposure.position == 1


def test_file_names_decide_before_the_exposure_order(practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1, name="scan_UL-molar_003.png")
    loaded(practice, series, 2, name="scan_004.png")

    with practice.store.reading(practice.assistant.practice_id) as scope:
        proposals = propose_assignment(scope, series.id)

    first = frozen_template(series).required_slots[0].id
    assert [(each.slot, each.because) for each in proposals] == [
        ("UL-molar", "file name"),
        (first, "exposure order"),
    ]


def test_an_upright_image_for_a_lying_receptor_is_pointed_out(practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1, name="UL-molar.png", upright=True)

    with practice.store.reading(practice.assistant.practice_id) as scope:
        (proposal,) = propose_assignment(scope, series.id)

    assert "stands upright, but the receptor lies across in Upper left molar" in proposal.warning


def test_two_images_cannot_share_a_slot_and_nothing_moves_then(practice: Practice) -> None:
    series = a_series(practice)
    one, two = loaded(practice, series, 1), loaded(practice, series, 2)

    with (
        pytest.raises(InputError, match="would both stand in"),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        keep_assignment(scope, practice.assistant, series.id, {one.id: "UR-molar", two.id: "UR-molar"})

    with practice.store.reading(practice.assistant.practice_id) as scope:
        assert {row.slot for row in audit_of(scope, series.id).exposures} == {None}


def test_two_images_swap_slots_in_one_step_and_must_be_reviewed_again(practice: Practice) -> None:
    series = a_series(practice)
    one, two = loaded(practice, series, 1, slot="UR-molar"), loaded(practice, series, 2, slot="UL-molar")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        review_exposure(
            scope, practice.assistant, one.id, shortfalls=[{"code": "overlap", "targets": ["contact:17-16"]}]
        )
        keep_assignment(scope, practice.assistant, series.id, {one.id: "UL-molar", two.id: "UR-molar"})

        rows = {row.id: row for row in audit_of(scope, series.id).exposures}

    assert (rows[one.id].slot, rows[two.id].slot) == ("UL-molar", "UR-molar")
    assert (rows[one.id].reviewed, rows[one.id].shortfalls) == (False, [])


def test_a_second_image_for_a_filled_slot_needs_an_order(practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1, slot="UR-molar")

    with pytest.raises(InputError, match="Order a retake first"):
        loaded(practice, series, 2, slot="UR-molar")


def test_a_retake_loaded_with_a_batch_is_linked_when_assigned(practice: Practice) -> None:
    series = a_series(practice)
    first = loaded(practice, series, 1, slot="UR-molar")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        review_exposure(scope, practice.assistant, first.id, shortfalls=[{"code": "cone_cut"}])
        order_retake(
            scope, practice.assistant, series.id, slot="UR-molar", authorised_by=practice.dentist.staff_id
        )
    second = loaded(practice, series, 2)

    with practice.store.writing(practice.assistant.practice_id) as scope:
        (proposal,) = propose_assignment(scope, series.id)
        keep_assignment(scope, practice.assistant, series.id, {second.id: proposal.slot})
        row = audit_of(scope, series.id).exposure(second.id)

    assert proposal.because == "retake ordered"
    assert row is not None
    assert (row.retake_of, row.retake_reason) == (first.id, "cone_cut")


def test_an_order_may_be_withdrawn_before_it_is_taken_only(practice: Practice) -> None:
    series = a_series(practice)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        order = order_retake(
            scope, practice.assistant, series.id, slot="UR-molar", authorised_by=practice.dentist.staff_id
        )
        withdraw_order(scope, practice.assistant, order.id)

        assert orders_of(scope, series.id) == []


def test_an_image_set_aside_is_kept_but_not_counted_and_can_come_back(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, slot="UR-molar")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        review_exposure(scope, practice.assistant, exposure.id)
        set_aside(scope, practice.assistant, exposure.id, "a test shot of the holder")
        aside = audit_of(scope, series.id)
        put_back(scope, practice.assistant, exposure.id)
        back = audit_of(scope, series.id)

    assert len(aside.exposures) == 1
    assert not aside.audit.coverage
    assert back.exposures[0].slot is None


def test_a_review_must_name_what_the_slot_shows(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, slot="UR-molar")

    with (
        pytest.raises(InputError, match="this view does not show crown:11"),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        review_exposure(
            scope, practice.assistant, exposure.id, shortfalls=[{"code": "cone_cut", "targets": ["crown:11"]}]
        )

    with practice.store.reading(practice.assistant.practice_id) as scope:
        assert audit_of(scope, series.id).exposures[0].reviewed is False


def test_a_review_can_be_taken_back(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, slot="UR-molar")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        review_exposure(scope, practice.assistant, exposure.id)
        reopen_review(scope, practice.assistant, exposure.id)

        assert not audit_of(scope, series.id).audit.coverage


def test_view_settings_are_kept_and_the_file_stays_as_it_came(practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        save_view(scope, practice.assistant, exposure.id, window_low=0.2, window_high=0.7, quarter_turns=3)
        row = audit_of(scope, series.id).exposures[0]

    assert row.view["quarter_turns"] == 3
    (kept,) = practice.store.images.names()
    assert practice.store.images.read(kept) == image_file(1)


def test_an_incomplete_series_closes_only_with_a_reason_and_a_dentist(practice: Practice) -> None:
    series = a_series(practice)
    for wrong in ({}, {"reason": "patient unwell"}, {"dentist_id": practice.dentist.staff_id}):
        with (
            pytest.raises(InputError),
            practice.store.writing(practice.assistant.practice_id) as scope,
        ):
            close_series(scope, practice.assistant, series.id, **wrong)
    with (
        pytest.raises(InputError, match="choose the dentist"),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        close_series(scope, practice.assistant, series.id, reason="unwell", dentist_id=practice.assistant.staff_id)

    with practice.store.writing(practice.assistant.practice_id) as scope:
        kept = close_series(
            scope, practice.assistant, series.id, reason="patient unwell", dentist_id=practice.dentist.staff_id
        )

    assert (kept.verdict, kept.reason) == ("incomplete", "patient unwell")


def test_images_without_a_slot_keep_a_series_open(practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1)

    with (
        pytest.raises(InputError, match="images 1 have no slot"),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        close_series(scope, practice.assistant, series.id, reason="x", dentist_id=practice.dentist.staff_id)
