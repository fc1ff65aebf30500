"""Appointments: only where the room is open and free, moved and cancelled with everybody's knowledge."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError

from app.core.errors import InputError
from app.storage.bookings import Appointment
from app.storage.recall import RecallItem
from app.work import booking_hours, bookings
from app.work.booking_free import free_on, next_free
from app.work.booking_lists import appointments_between, appointments_of_patient
from app.work.bookings import NeedsConfirmation, SlotTaken, Wanted
from app.work.recall_outside import record_outside_images
from tests.people import Practice, a_patient
from tests.work.calendar_people import NOW, a_calendar, booked


def rows(practice: Practice) -> list[Appointment]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return list(scope.all(scope.select(Appointment)))


def test_an_appointment_stands_at_its_moment_on_both_sides_of_the_turn_of_the_clock(practice: Practice) -> None:
    """Nine o'clock in Berlin is 8:00 UTC on 27 March 2026 and 7:00 UTC on 30 March."""
    room = a_calendar(practice)
    before, after = booked(practice, room, day="2026-03-27"), booked(practice, room, day="2026-03-30")

    assert before.starts_at == datetime(2026, 3, 27, 8, tzinfo=UTC)
    assert after.starts_at == datetime(2026, 3, 30, 7, tzinfo=UTC)


def test_the_length_decides_where_it_ends(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice), minutes="35")

    assert row.ends_at - row.starts_at == timedelta(minutes=35)


@pytest.mark.parametrize(
    ("wanted", "field", "said"),
    [
        ({"day": "2026-03-26"}, "day", "is past"),
        ({"day": "2026-03-27", "time": "07:00"}, "time", "07:00 is past"),
        ({"day": "2026-13-01"}, "day", "is not a date"),
        ({"day": "2062-03-30"}, "day", "Check the year"),
        ({"time": "nine"}, "time", "is not a time of day"),
        ({"time": "09:02"}, "time", "in steps of 5 minutes"),
        ({"day": "2026-04-04"}, "time", "the room is closed on that day"),
        ({"time": "11:50"}, "time", "open 08:00 to 12:00 and 13:00 to 17:00"),
        ({"time": "16:50"}, "time", "open 08:00 to 12:00 and 13:00 to 17:00"),
        ({"minutes": "0"}, "minutes", "5 to 240 minutes"),
        ({"minutes": "23"}, "minutes", "in steps of 5"),
        ({"minutes": "lots"}, "minutes", "is not a number of minutes"),
        ({"purpose": "adult-81"}, "purpose", "from the list"),
    ],
)
def test_a_time_that_cannot_be_is_told_at_its_field_and_nothing_is_kept(
    practice: Practice, wanted: dict[str, Any], field: str, said: str
) -> None:
    room = a_calendar(practice)

    with pytest.raises(InputError, match=said) as caught:
        booked(practice, room, **wanted)

    assert caught.value.path == field
    assert rows(practice) == []


def test_a_room_that_is_taken_is_refused_with_the_next_free_times(practice: Practice) -> None:
    room = a_calendar(practice)
    booked(practice, room, time="09:00", minutes="40")

    with pytest.raises(SlotTaken, match=r"Garden is taken then.* 2026-03-30 09:40") as caught:
        booked(practice, room, time="09:20")

    assert [f"{each:%H:%M}" for each in caught.value.free] == ["07:40", "07:50", "08:00"]


def test_appointments_that_touch_do_not_overlap(practice: Practice) -> None:
    room = a_calendar(practice)
    for time in ("09:00", "09:20", "08:40"):
        booked(practice, room, time=time)

    assert len(rows(practice)) == 3


def test_the_next_free_times_of_a_full_day_are_on_the_next_open_day(practice: Practice) -> None:
    """Friday 3 April is full and the weekend closed; Monday follows."""
    room = a_calendar(practice)
    for number, (time, minutes) in enumerate((("08:00", "240"), ("13:00", "240"))):
        booked(practice, room, a_patient(practice, f"F{number}").id, day="2026-04-03", time=time, minutes=minutes)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        since = datetime(2026, 4, 3, 6, tzinfo=UTC)
        found = next_free(scope, room, 20, since=since, at=NOW)

    assert found[0] == datetime(2026, 4, 6, 6, tzinfo=UTC)


def test_of_two_who_book_the_same_time_at_once_one_is_told(practice: Practice) -> None:
    room = a_calendar(practice)
    patients = [a_patient(practice, f"T{number}").id for number in range(2)]
    ready = threading.Barrier(2)
    answers: list[object] = []

    def try_it(patient_id: str) -> None:
        ready.wait()
        try:
            answers.append(booked(practice, room, patient_id))
        except InputError as error:
            answers.append(error)

    threads = [threading.Thread(target=try_it, args=(patient_id,)) for patient_id in patients]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(type(each).__name__ for each in answers) == ["Appointment", "SlotTaken"]
    assert len(rows(practice)) == 1


def test_the_database_itself_refuses_an_overlap(practice: Practice) -> None:
    """Whoever writes the row: the use case's own look is not the only guard."""
    room = a_calendar(practice)
    first = booked(practice, room)

    twin = first.model_dump(exclude={"id"}) | {"ends_at": first.ends_at + timedelta(minutes=5)}

    with (
        pytest.raises(IntegrityError, match="taken at that time"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        scope.add(Appointment(**twin))


def test_a_patient_is_not_in_two_rooms_at_once(practice: Practice) -> None:
    first, second = a_calendar(practice), a_calendar(practice, "Attic")
    patient = a_patient(practice).id
    booked(practice, first, patient, time="09:00")

    with pytest.raises(InputError, match="another appointment at that time"):
        booked(practice, second, patient, time="09:10", confirmed=True)


def test_a_patient_who_is_booked_already_needs_a_second_look(practice: Practice) -> None:
    room = a_calendar(practice)
    patient = a_patient(practice).id
    booked(practice, room, patient, time="09:00")

    with pytest.raises(NeedsConfirmation, match="booked already, on 2026-03-30 at 09:00"):
        booked(practice, room, patient, time="10:00", confirmed=False)

    assert booked(practice, room, patient, time="10:00", confirmed=True).status == "booked"


def recall_states(practice: Practice, patient_id: str) -> list[tuple[str, str]]:
    """State and appointment of each line of the patient on the work list."""
    with practice.store.reading(practice.dentist.practice_id) as scope:
        found = scope.all(scope.select(RecallItem).where(RecallItem.patient_id == patient_id))
    return [(each.state, each.appointment_id) for each in found]


def test_images_that_still_serve_need_a_second_look_and_nothing_is_kept(practice: Practice) -> None:
    room, patient = a_calendar(practice), a_patient(practice).id
    with practice.store.writing(practice.dentist.practice_id) as scope:
        record_outside_images(
            scope, practice.front_desk, patient, kind="bitewings", taken_on="2026-02-27", today=NOW.date()
        )

    with pytest.raises(NeedsConfirmation, match="Images of 2026-02-27 may still serve"):
        booked(practice, room, patient, confirmed=False)

    assert rows(practice) == []


def test_an_appointment_before_the_earliest_sensible_day_needs_a_second_look(practice: Practice) -> None:
    room, patient = a_calendar(practice), a_patient(practice).id
    with practice.store.writing(practice.dentist.practice_id) as scope:
        record_outside_images(
            scope, practice.front_desk, patient, kind="bitewings", taken_on="2026-02-27", today=NOW.date()
        )

    with pytest.raises(NeedsConfirmation, match="the earliest sensible day for"):
        booked(practice, room, patient, confirmed=False)


def test_a_visit_without_images_needs_no_second_look(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice), purpose="review", confirmed=False)

    assert row.status == "booked"


def test_the_work_list_knows_who_is_booked_and_who_waits_again(practice: Practice) -> None:
    room, patient = a_calendar(practice), a_patient(practice).id
    row = booked(practice, room, patient)
    while_booked = recall_states(practice, patient)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bookings.cancel(scope, practice.front_desk, row.id, reason="called", version=1, at=NOW)

    assert while_booked == [("booked", row.id)]
    assert [state for state, _ in recall_states(practice, patient)] != ["booked"]


def test_who_missed_the_appointment_waits_again(practice: Practice) -> None:
    room, patient = a_calendar(practice), a_patient(practice).id
    row = booked(practice, room, patient)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bookings.mark(scope, practice.front_desk, row.id, status="missed", version=1, at=NOW + timedelta(days=4))

    assert [state for state, _ in recall_states(practice, patient)] == ["open"]


def test_moving_an_appointment_frees_its_old_time(practice: Practice) -> None:
    room = a_calendar(practice)
    row = booked(practice, room)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        moved = bookings.move(
            scope,
            practice.assistant,
            row.id,
            wanted=Wanted(room_id=room, day="2026-03-30", time="09:10", minutes="20"),
            version=1,
            confirmed=True,
            at=NOW,
        )

    assert (moved.starts_at - row.starts_at, moved.version) == (timedelta(minutes=10), 2)
    assert booked(practice, room, time="08:50").status == "booked"


def test_a_change_upon_an_older_look_is_refused(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bookings.cancel(scope, practice.front_desk, row.id, reason="called", version=1, at=NOW)

    with (
        pytest.raises(InputError, match="somebody has changed this appointment"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        bookings.cancel(scope, practice.front_desk, row.id, reason="called", version=1, at=NOW)


def test_a_cancelled_appointment_frees_the_room_and_keeps_its_reason(practice: Practice) -> None:
    room = a_calendar(practice)
    row = booked(practice, room)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bookings.cancel(scope, practice.front_desk, row.id, reason="Moved away", version=1, at=NOW)
    again = booked(practice, room, a_patient(practice, "AGAIN").id)

    assert again.starts_at == row.starts_at
    assert {(each.status, each.reason) for each in rows(practice)} == {("cancelled", "Moved away"), ("booked", "")}


def test_cancelling_needs_a_reason(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice))

    with (
        pytest.raises(InputError, match="reason: this is empty"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        bookings.cancel(scope, practice.front_desk, row.id, reason=" ", version=1, at=NOW)


def test_an_appointment_is_marked_only_once_it_has_begun(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice))

    with (
        pytest.raises(InputError, match="has not begun"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        bookings.mark(scope, practice.assistant, row.id, status="kept", version=1, at=NOW)


def test_a_mark_can_be_corrected(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice))
    for version, status in enumerate(("missed", "kept"), start=1):
        with practice.store.writing(practice.dentist.practice_id) as scope:
            bookings.mark(
                scope, practice.assistant, row.id, status=status, version=version, at=NOW + timedelta(days=4)
            )

    assert [each.status for each in rows(practice)] == ["kept"]


def test_a_closed_day_says_why_and_is_not_offered(practice: Practice) -> None:
    room = a_calendar(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        booking_hours.close_day(
            scope, practice.dentist, day="2026-03-30", room_id="", reason="Easter Monday", today=NOW.date()
        )

    with pytest.raises(InputError, match=r"closed on that day \(Easter Monday\)"):
        booked(practice, room)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert free_on(scope, room, datetime(2026, 3, 30, tzinfo=UTC).date(), 20, at=NOW) == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("eight to noon", "is not a span of Monday"),
        ("8-25", "holds no time of day"),
        ("08:02-12:00", "steps of five"),
        ("12:00-08:00", "Let it close after it opens"),
        ("08:00-12:00, 11:00-15:00", "overlap"),
    ],
)
def test_hours_that_cannot_be_are_told_at_their_day(practice: Practice, text: str, said: str) -> None:
    room = a_calendar(practice)

    with (
        pytest.raises(InputError, match=said) as caught,
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        booking_hours.save_hours(scope, practice.dentist, room, [text])

    assert caught.value.path == "hours-0"
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert len(booking_hours.hours_of(scope, room)) == 10


def test_a_doubled_hour_is_booked_twice_without_overlap(practice: Practice) -> None:
    """Between 2:00 and 3:00 of 25 October 2026 the clock of Berlin passes twice."""
    room = a_calendar(practice, week=[""] * 6 + ["01:00-05:00"])
    found = [
        booked(practice, room, a_patient(practice, which).id, day="2026-10-25", time="02:30", which=which)
        for which in ("first", "second")
    ]

    assert [each.starts_at.hour for each in found] == [0, 1]


def test_the_calendar_lists_a_local_day_whole(practice: Practice) -> None:
    room = a_calendar(practice, week=["00:00-23:55"] * 7)
    for time in ("00:00", "23:30"):
        booked(practice, room, a_patient(practice, time).id, day="2026-03-30", time=time)
    day = datetime(2026, 3, 30, tzinfo=UTC).date()
    with practice.store.reading(practice.dentist.practice_id) as scope:
        listed = appointments_between(scope, day, day)

    assert [f"{each.starts:%d %H:%M}" for each in listed] == ["30 00:00", "30 23:30"]


def test_the_lists_hold_nothing_of_another_practice(practice: Practice) -> None:
    row = booked(practice, a_calendar(practice))
    day = row.starts_at.date()
    with practice.store.reading(practice.stranger.practice_id) as scope:
        assert appointments_between(scope, day, day) == []
        assert appointments_of_patient(scope, row.patient_id) == []
