"""The calendar's pages: booked, moved, cancelled and marked in the browser; every fault is told at its place."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pytest
import time_machine

from app.storage.bookings import Appointment
from app.work.practice import add_room
from tests.people import Practice, a_patient
from tests.web.client import Page, PageClient, form_values, words
from tests.work.calendar_people import NOW, a_calendar, booked


@pytest.fixture(autouse=True)
def friday() -> Iterator[time_machine.Traveller]:
    """The clock stands at eight of a Friday in Berlin."""
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


@pytest.fixture
def room(practice: Practice) -> str:
    return a_calendar(practice)


def finder(client: PageClient, patient: str, day: str = "2026-03-30", **more: str) -> Page:
    query = "".join(f"&{name}={value}" for name, value in more.items())
    return client.get(f"/bookings/new?patient={patient}&day={day}{query}")


def send(client: PageClient, page: Page, changes: dict[str, str]) -> Page:
    """Send the form in which a time is chosen: the page has another with that address, which only looks."""
    form = page.find('form[method="post"][action^="/bookings/"]')
    return client.request("POST", str(form["action"]), data=form_values(form) | changes)


def slots(page: Page) -> list[str]:
    return [words(each) for each in page.all(".time")]


def test_an_appointment_is_booked_from_a_free_time(front_desk: PageClient, practice: Practice, room: str) -> None:
    page = finder(front_desk, a_patient(practice).id)
    done = send(front_desk, page, {"slot": f"{room}|09:20|"})

    assert done.status == 200
    assert "Monday 30 Mar 2026, 09:20 to 09:35 (15 minutes)" in words(done.find(".facts"))
    assert "The appointment is booked" in done.text


def test_the_free_times_leave_out_what_is_booked(front_desk: PageClient, practice: Practice, room: str) -> None:
    booked(practice, room, time="09:00", minutes="30")

    shown = slots(finder(front_desk, a_patient(practice).id, minutes="30"))

    assert shown[:2] == ["08:00", "08:10"]
    assert not {"08:40", "09:00", "09:20"} & set(shown)
    assert "09:30" in shown


def test_a_time_taken_meanwhile_is_told_with_the_next_ones(
    front_desk: PageClient, practice: Practice, room: str
) -> None:
    page = finder(front_desk, a_patient(practice).id)
    booked(practice, room, time="09:20", minutes="15")
    again = send(front_desk, page, {"slot": f"{room}|09:20|"})

    assert again.status == 422
    assert "Garden is taken then. The next free times are 2026-03-30 09:35" in again.errors()[0]
    assert "09:35" in slots(again)


def test_what_speaks_against_a_day_must_be_read_first(
    front_desk: PageClient, practice: Practice, room: str
) -> None:
    patient = a_patient(practice).id
    booked(practice, room, patient, time="09:00")
    first = send(front_desk, finder(front_desk, patient), {"slot": f"{room}|10:00|"})
    second = send(front_desk, first, {"confirmed": "yes"})

    assert (first.status, second.status) == (409, 200)
    assert "booked already, on 2026-03-30 at 09:00" in words(first.find(".caution"))
    assert "10:00 to 10:15" in words(second.find(".facts"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "is not a time of day"),
        ({"own_time": "07:00"}, "the room is open 08:00 to 12:00"),
        ({"own_time": "09:03"}, "steps of 5 minutes"),
        ({"own_time": "09:00", "day": "2026-03-20"}, "is past"),
        ({"own_time": "09:00", "day": "soon"}, "is not a date"),
        ({"own_time": "09:00", "minutes": "999"}, "cannot be booked"),
    ],
)
def test_a_booking_that_cannot_be_is_told(
    front_desk: PageClient, practice: Practice, room: str, changes: dict[str, str], said: str
) -> None:
    page = finder(front_desk, a_patient(practice).id, room=room)
    again = send(front_desk, page, changes)

    assert again.status == 422
    assert said in again.errors()[0]


def test_without_a_patient_one_is_looked_for(front_desk: PageClient, practice: Practice, room: str) -> None:
    patient = a_patient(practice).id
    page = front_desk.get(f"/bookings/new?day=2026-03-31&room={room}&q=merri")

    link = page.find("tbody a")["href"]

    assert link == f"/bookings/new?patient={patient}&day=2026-03-31&room={room}"


def test_an_appointment_is_moved(front_desk: PageClient, practice: Practice, room: str) -> None:
    row = booked(practice, room)
    page = front_desk.get(f"/bookings/{row.id}/move?day=2026-03-31")
    moved = send(front_desk, page, {"slot": f"{room}|13:00|", "confirmed": "yes"})

    assert "Tuesday 31 Mar 2026, 13:00 to 13:20" in words(moved.find(".facts"))


def test_a_cancelled_appointment_shows_why(front_desk: PageClient, practice: Practice, room: str) -> None:
    row = booked(practice, room)
    page = front_desk.get(f"/bookings/{row.id}")
    refused = front_desk.submit(page, f"/bookings/{row.id}/cancel", {"reason": ""})
    done = front_desk.submit(page, f"/bookings/{row.id}/cancel", {"reason": "Has moved away"})

    assert (refused.status, "empty" in refused.error_at("reason")) == (422, True)
    assert "cancelled Has moved away" in words(done.find(".facts"))


def test_a_past_appointment_is_marked_from_the_calendar(
    client_of: Callable[[str], PageClient], practice: Practice, room: str, friday: time_machine.Traveller
) -> None:
    row = booked(practice, room)
    friday.shift(timedelta(days=4))
    front_desk = client_of("pell")
    page = front_desk.get("/calendar?day=2026-03-30")
    done = front_desk.submit(page, f"/bookings/{row.id}/mark", {})
    marked = front_desk.post(
        f"/bookings/{row.id}/mark", {"version": "1", "status": "missed", "then": "/calendar?day=2026-03-30"}
    )

    assert done.status == 422
    assert "missed" in words(marked.find(".chip"))


@pytest.mark.parametrize("view", ["day", "week", "month"])
def test_each_view_shows_the_appointment(front_desk: PageClient, practice: Practice, room: str, view: str) -> None:
    booked(practice, room)

    page = front_desk.get(f"/calendar?view={view}&day=2026-03-30")

    assert ("1 booked" if view == "month" else "Ada Merriweather-Stone") in words(page.find(".cal"))


@pytest.mark.parametrize(
    "query", ["", "?view=century", "?day=2026-99-99", "?day=0001-01-01", "?room=none", "?day=9999-12-31"]
)
def test_whatever_the_address_says_there_is_a_calendar(front_desk: PageClient, query: str) -> None:
    assert front_desk.get(f"/calendar{query}").status == 200


def test_a_practice_without_rooms_is_told_where_to_begin(front_desk: PageClient) -> None:
    page = front_desk.get("/calendar")

    assert "There is no room yet" in page.text


def test_hours_are_kept_and_faults_told_at_their_day(dentist: PageClient, practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        room = add_room(scope, practice.dentist, "Attic").id
    page = dentist.get(f"/calendar/hours?room={room}")
    kept = dentist.submit(page, "/calendar/hours", {"hours-2": "9-12, 13.30-17"})
    wrong = dentist.submit(kept, "/calendar/hours", {"hours-2": "all day"})

    assert kept.find("#f-hours-2")["value"] == "09:00-12:00, 13:30-17:00"
    assert "not a span of Wednesday" in wrong.error_at("hours-2")
    assert wrong.find("#f-hours-2")["value"] == "all day"


def test_a_zone_that_is_none_is_refused(dentist: PageClient) -> None:
    page = dentist.submit(
        dentist.get("/calendar/hours"), "/calendar/hours/settings", {"time_zone": "Mars/Olympus"}
    )

    assert page.status == 422
    assert "is not a time zone" in page.error_at("time_zone")


def test_a_day_is_closed_and_opened_again(dentist: PageClient, room: str) -> None:
    page = dentist.get("/calendar/hours")
    closed = dentist.submit(
        page, "/calendar/hours/closed", {"day": "2026-04-06", "closed_reason": "Easter Monday"}
    )
    action = str(closed.find('form[action*="/reopen"]')["action"])
    opened = dentist.submit(closed, action)

    assert "Easter Monday" in words(closed.find("tbody"))
    assert "No closed day" in opened.text


def test_the_csv_is_what_the_list_shows_and_runs_nothing(
    front_desk: PageClient, practice: Practice, room: str
) -> None:
    """RFC 4180: CRLF; CWE-1236: a name that a spreadsheet would run is guarded."""
    row = booked(practice, room)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        from app.storage.people import Patient

        patient = scope.get(Patient, row.patient_id, "patient")
        patient.name = '=HYPERLINK("http://x","y"), Ada'
        scope.session.add(patient)
    page = front_desk.get("/calendar/appointments.csv?view=week&day=2026-03-30")
    lines = list(csv.reader(io.StringIO(page.response.content.decode("utf-8-sig"), newline="")))

    assert page.response.headers["content-type"].startswith("text/csv")
    assert page.response.content.count(b"\r\n") == page.response.content.count(b"\n") == 2
    assert lines[1][:6] == ["2026-03-30", "09:00", "09:20", "20", "Garden", '\'=HYPERLINK("http://x","y"), Ada']


def test_the_list_to_print_holds_the_day_in_order(front_desk: PageClient, practice: Practice, room: str) -> None:
    for time in ("10:00", "08:30"):
        booked(practice, room, time=time)

    page = front_desk.get("/calendar/print?view=day&day=2026-03-30")

    assert [words(each)[:5] for each in page.all("tbody td.date")] == ["08:30", "10:00"]


def test_the_forecast_says_in_words_what_it_draws(front_desk: PageClient, practice: Practice, room: str) -> None:
    page = front_desk.get("/calendar/forecast")

    assert len(page.all(".year-bar")) == len(page.all("tbody tr")) == 52
    assert "enough places" in words(page.find("tbody tr"))
    assert "the show rate may be anything" in page.text


def test_another_practice_finds_no_appointment(
    client_of: Callable[[str], PageClient], practice: Practice, room: str
) -> None:
    row = booked(practice, room)
    stranger = client_of("isko")
    answers = {tail: stranger.get(f"/bookings/{row.id}{tail}").status for tail in ("", "/move")}
    done = stranger.post(f"/bookings/{row.id}/cancel", {"version": "1", "reason": "x"})

    assert (answers, done.status) == ({"": 404, "/move": 404}, 404)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.get(Appointment, row.id, "appointment").status == "booked"


def test_a_doubled_hour_offers_both_times(front_desk: PageClient, practice: Practice) -> None:
    room = a_calendar(practice, week=[""] * 6 + ["02:00-03:00"])
    page = finder(front_desk, a_patient(practice).id, day="2026-10-25", minutes="30")
    send(front_desk, page, {"slot": f"{room}|02:30|second", "confirmed": "yes"})
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (row,) = scope.all(scope.select(Appointment))

    assert "02:30 CEST (first)" in slots(page)
    assert "02:30 CET (second)" in slots(page)
    assert row.starts_at == datetime.fromisoformat("2026-10-25T01:30:00+00:00")
