"""Feeds: a secret address that whoever has it may read, and nobody else; nothing clinical, initials by default."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
import time_machine
from icalendar import Calendar

from app.storage.bookings import FeedAddress
from app.work import bookings
from app.work.accounts import retire_staff
from tests.people import Practice
from tests.web.client import Page, PageClient, words
from tests.work.calendar_people import NOW, a_calendar, booked


@pytest.fixture(autouse=True)
def friday() -> Iterator[time_machine.Traveller]:
    """The clock stands at eight of a Friday in Berlin."""
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


def made(client: PageClient, **ticked: str) -> str:
    """The path of a new address of that person."""
    page = client.submit(client.get("/calendar/feed"), "/calendar/feed", ticked)
    address = str(page.find("#f-fresh")["value"])
    return address[address.index("/feeds/") :]


def feed(client: PageClient, path: str, **headers: str) -> Page:
    return client.get(path, headers={name.replace("_", "-"): value for name, value in headers.items()})


def test_a_feed_is_read_without_a_log_in_and_names_initials_only(
    front_desk: PageClient, anybody: PageClient, practice: Practice
) -> None:
    booked(practice, a_calendar(practice))
    answer = feed(anybody, made(front_desk))
    (event,) = Calendar.from_ical(answer.response.content).walk("VEVENT")

    assert answer.response.headers["content-type"] == "text/calendar; charset=utf-8"
    assert (str(event["summary"]), str(event["location"])) == ("Appointment: A. M.", "Garden")
    assert b"Merriweather" not in answer.response.content
    assert b"itewing" not in answer.response.content


def test_names_are_shown_only_where_asked_for(
    front_desk: PageClient, anybody: PageClient, practice: Practice
) -> None:
    booked(practice, a_calendar(practice))

    assert b"Ada Merriweather-Stone" in feed(anybody, made(front_desk, shows_names="yes")).response.content


def test_a_secret_has_256_bits_and_only_its_hash_is_kept(front_desk: PageClient, practice: Practice) -> None:
    path = made(front_desk)
    secret = path.removeprefix("/feeds/").removesuffix(".ics")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (row,) = scope.all(scope.select(FeedAddress))

    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", secret)
    assert secret not in repr(row)
    assert secret not in front_desk.get("/calendar/feed").text


def test_unknown_revoked_and_left_behind_answer_alike(
    client_of: Callable[[str], PageClient], practice: Practice
) -> None:
    desk, helper, anybody = client_of("pell"), client_of("tomke"), client_of("")
    revoked, left = made(desk), made(helper)
    page = desk.get("/calendar/feed")
    desk.submit(page, str(page.find('form[action*="/revoke"]')["action"]))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retire_staff(scope, practice.administrator, practice.assistant.staff_id, retired=True)

    answers = [feed(anybody, path) for path in (revoked, left, "/feeds/nothing.ics", f"/feeds/{'x' * 5000}.ics")]

    assert {each.status for each in answers} == {404}
    # The number of the request is each one's own.
    heads = [sorted((k, v) for k, v in each.response.headers.items() if k != "x-request-id") for each in answers]
    assert len({(each.response.content, tuple(head)) for each, head in zip(answers, heads, strict=True)}) == 1


def test_nobody_revokes_a_colleagues_address(client_of: Callable[[str], PageClient], practice: Practice) -> None:
    desk, doctor = client_of("pell"), client_of("wilna")
    path = made(desk)
    action = str(desk.get("/calendar/feed").find('form[action*="/revoke"]')["action"])

    assert doctor.post(action).status == 404
    assert feed(doctor, path).status == 200


def test_an_unchanged_feed_is_not_sent_again(
    front_desk: PageClient, anybody: PageClient, practice: Practice, friday: time_machine.Traveller
) -> None:
    row = booked(practice, a_calendar(practice))
    path = made(front_desk)
    tag = feed(anybody, path).response.headers["etag"]
    friday.shift(timedelta(hours=3))
    same = feed(anybody, path, If_None_Match=f'"other", W/{tag}')
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bookings.cancel(scope, practice.front_desk, row.id, reason="x", version=1, at=NOW + timedelta(hours=3))
    changed = feed(anybody, path, If_None_Match=tag)
    (event,) = Calendar.from_ical(changed.response.content).walk("VEVENT")

    assert (same.status, same.response.content) == (304, b"")
    assert (changed.status, str(event["status"]), event["sequence"]) == (200, "CANCELLED", 1)


def test_a_feed_holds_nothing_of_another_practice(
    client_of: Callable[[str], PageClient], practice: Practice
) -> None:
    booked(practice, a_calendar(practice))
    answer = feed(client_of(""), made(client_of("isko")))

    assert Calendar.from_ical(answer.response.content).walk("VEVENT") == []
    assert "Otter Yard" in answer.response.text


def test_there_is_an_end_to_the_addresses_of_one_person(front_desk: PageClient) -> None:
    for _ in range(5):
        made(front_desk)
    page = front_desk.submit(front_desk.get("/calendar/feed"), "/calendar/feed", {})

    assert page.status == 422
    assert "5 addresses already" in words(page.find(".mend"))
