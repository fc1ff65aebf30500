"""The desk's work on the recall list: contacts, holds, claims, bookings; and that the list is always right."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from app.core.errors import InputError
from app.storage.recall import RecallHold, RecallItem
from app.work import recall_bookings, recall_contacts, recall_holds, recall_prescriptions
from app.work.recall_claims import claim, holds_at, release
from app.work.recall_filter import RecallFilter
from app.work.recall_list import PAGE_SIZE, recall_page
from app.work.recall_recompute import recompute_stale
from app.work.recall_warnings import booking_warnings
from tests.people import TODAY, Practice, a_patient
from tests.work.recall_cast import BusyDesk, an_adult, differences, line_of

NINE = datetime(2026, 3, 27, 9, 0, tzinfo=UTC)


def test_who_declined_is_held_until_the_next_try(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_contacts.note_contact(
            scope, practice.front_desk, patient, outcome="declined", next_try_on="2026-06-01", today=TODAY
        )
        (hold,) = scope.all(scope.select(RecallHold))
        held = recall_page(scope, RecallFilter(when="held"), TODAY)
        recompute_stale(scope, date(2026, 6, 1))

    assert (hold.kind, hold.until_on) == ("declined", date(2026, 5, 31))
    assert [row.patient.id for row in held.rows] == [patient]
    assert line_of(practice, patient).state == "open"


@pytest.mark.parametrize("outcome", ["reached", "message", "booked", "wrong_number", "letter"])
def test_every_other_outcome_leaves_the_patient_on_the_list(practice: Practice, outcome: str) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_contacts.note_contact(
            scope, practice.front_desk, patient, outcome=outcome, next_try_on="2026-04-10", today=TODAY, at=NINE
        )
    line = line_of(practice, patient)

    assert (line.state, line.last_outcome, line.last_contact_at) == ("open", outcome, NINE)
    assert line.next_try_on == date(2026, 4, 10)


def test_lifting_a_hold_puts_the_patient_back(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        hold = recall_holds.place_hold(scope, practice.front_desk, patient, kind="transferred", today=TODAY)
        during = scope.all(scope.select(RecallItem))[0].state
        recall_holds.lift_hold(scope, practice.front_desk, hold.id, TODAY)

    assert (during, line_of(practice, patient).state) == ("held", "open")


def test_a_booked_patient_stands_under_booked_until_the_appointment_is_gone(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_bookings.note_booked(scope, practice.front_desk, patient, "a1", date(2026, 6, 1), TODAY)
        recall_bookings.note_booked(scope, practice.front_desk, patient, "a1", date(2026, 6, 8), TODAY)
        booked = recall_page(scope, RecallFilter(when="booked"), TODAY).rows[0].item.booked_on
        recall_bookings.note_unbooked(scope, practice.front_desk, patient, "a1", TODAY)

    assert (booked, line_of(practice, patient).state) == (date(2026, 6, 8), "open")


def test_two_people_never_call_the_same_patient(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        claim(scope, practice.front_desk, patient, NINE)
    with (
        pytest.raises(InputError, match="Pell Orcutt is calling Ilva Tern"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        claim(scope, practice.assistant, patient, NINE + timedelta(minutes=9))

    assert line_of(practice, patient).claimed_by == practice.front_desk.staff_id


def test_a_claim_ends_by_itself_when_released_and_after_a_contact(practice: Practice) -> None:
    patient = an_adult(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        claim(scope, practice.front_desk, patient, NINE)
        claim(scope, practice.assistant, patient, NINE + timedelta(minutes=10))
        release(scope, practice.front_desk, patient)
    kept = line_of(practice, patient)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_contacts.note_contact(scope, practice.assistant, patient, outcome="message", today=TODAY)

    assert kept.claimed_by == practice.assistant.staff_id
    assert holds_at(kept, NINE + timedelta(minutes=19))
    assert line_of(practice, patient).claimed_by is None


def test_a_claim_stays_when_the_line_changes_its_kind(practice: Practice) -> None:
    patient = an_adult(practice, risk="")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        claim(scope, practice.front_desk, patient, NINE)
        recall_prescriptions.assess_risk(
            scope, practice.dentist, patient, level="high", assessed_on="2026-03-27", today=TODAY
        )

    assert line_of(practice, patient, "bitewings").claimed_by == practice.front_desk.staff_id


@pytest.mark.parametrize(
    ("day", "says"),
    [
        (date(2026, 5, 30), ["earliest sensible day"]),
        (date(2026, 5, 31), []),
        (date(2026, 12, 1), []),
    ],
)
def test_a_day_before_the_earliest_sensible_one_warns(practice: Practice, day: date, says: list[str]) -> None:
    patient = an_adult(practice)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        told = booking_warnings(scope, patient, day, TODAY)

    assert len(told) == len(says)
    assert all(part in sentence for part, sentence in zip(says, told, strict=True))


def test_recent_images_and_a_hold_warn_too(practice: Practice) -> None:
    patient = an_adult(practice, images="2026-02-01", risk="high")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_holds.place_hold(scope, practice.front_desk, patient, kind="pregnancy", today=TODAY)
        told = " ".join(booking_warnings(scope, patient, date(2026, 5, 1), TODAY))

    assert "Images of 2026-02-01 may still serve" in told
    assert "note on pregnancy, for the dentist to decide" in told


def test_another_appointment_warns_with_its_day(practice: Practice) -> None:
    patient, day = an_adult(practice), date(2026, 12, 1)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_bookings.note_booked(scope, practice.front_desk, patient, "a1", date(2026, 11, 3), TODAY)
        told = booking_warnings(scope, patient, day, TODAY)

    assert told == ["The patient is booked already, on 2026-11-03."]


def test_the_appointment_that_is_moved_does_not_warn_of_itself(practice: Practice) -> None:
    patient, day = an_adult(practice), date(2026, 12, 1)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        recall_bookings.note_booked(scope, practice.front_desk, patient, "a1", date(2026, 11, 3), TODAY)
        recall_bookings.note_booked(scope, practice.front_desk, patient, "a2", date(2026, 11, 5), TODAY)
        told = booking_warnings(scope, patient, day, TODAY, but_appointment_id="a1")

    assert told == ["The patient is booked already, on 2026-11-05."]


def test_every_line_stands_in_exactly_one_part_of_the_list(practice: Practice) -> None:
    patients = [a_patient(practice, f"H{number}").id for number in range(300, 306)]
    desk = BusyDesk(practice, patients, seed=5)
    for _ in range(60):
        desk.step()
    with practice.store.reading(practice.dentist.practice_id) as scope:
        lines = {each.id for each in scope.all(scope.select(RecallItem))}
        listed = [
            row.item.id
            for when in ("overdue", "due", "soon", "later", "booked", "held", "none")
            for row in recall_page(scope, RecallFilter(when=when), desk.today).rows
        ]

    assert sorted(listed) == sorted(lines)
    assert len(lines) >= len(patients)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_kept_is_always_what_would_be_worked_out(practice: Practice, seed: int) -> None:
    """Whatever is done at the desk, the kept list and a fresh computation never part."""
    desk = BusyDesk(practice, [a_patient(practice, f"H{number}").id for number in range(300, 304)], seed)
    for number in range(40):
        deed = desk.step()
        with practice.store.reading(practice.dentist.practice_id) as scope:
            wrong = differences(scope, desk.today)

        assert wrong == [], f"after step {number}, {deed}"


def test_pages_follow_one_another_without_gap_or_twin(practice: Practice) -> None:
    many = PAGE_SIZE + 5
    for number in range(many):
        a_patient(practice, f"K{number}")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        day = TODAY + timedelta(days=3000)
        pages = [recall_page(scope, RecallFilter(when="overdue"), day, number) for number in (1, 2, 99)]
    seen = [row.item.id for page in pages[:2] for row in page.rows]

    assert (len(seen), len(set(seen))) == (many, many)
    assert (pages[0].total, pages[0].pages, pages[2].page) == (many, 2, 2)
