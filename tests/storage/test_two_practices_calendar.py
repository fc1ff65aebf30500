"""The calendar of one practice is out of reach of another in the same database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest

from app.core.errors import InputError
from app.storage.practice_scope import NotFound
from app.work import booking_free, booking_hours, bookings, feeds
from app.work.actor import Actor
from app.work.booking_hours import reopen_day
from tests.people import Practice
from tests.storage.test_two_practices import everything_of
from tests.work.booking_use_cases import REACHING
from tests.work.calendar_people import NOW, a_calendar, booked


@dataclass(frozen=True)
class Theirs:
    """What Heron Lane's calendar holds, seen from Otter Yard."""

    practice: Practice
    patient: str
    room: str
    appointment: str

    @property
    def stranger(self) -> Actor:
        return self.practice.stranger


@pytest.fixture
def theirs(practice: Practice) -> Theirs:
    room = a_calendar(practice)
    row = booked(practice, room)
    return Theirs(practice, row.patient_id, room, row.id)


@pytest.mark.parametrize("reaching", REACHING)
def test_what_belongs_to_the_other_calendar_is_not_there(theirs: Theirs, reaching: str) -> None:
    before = everything_of(theirs.practice.dentist, theirs.practice.store)

    with (
        pytest.raises((NotFound, InputError)),
        theirs.practice.store.writing(theirs.stranger.practice_id) as scope,
    ):
        REACHING[reaching](scope, theirs)

    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before


def test_a_closed_day_and_a_feed_of_the_other_practice_cannot_be_ended(theirs: Theirs) -> None:
    ours = theirs.practice
    with ours.store.writing(ours.dentist.practice_id) as scope:
        day = booking_hours.close_day(
            scope, ours.dentist, day="2026-04-06", room_id="", reason="", today=NOW.date()
        ).id
        feeds.make_feed(scope, ours.dentist, shows_names=False, at=NOW)
        feed = feeds.own_feeds(scope, ours.dentist)[0].id
    with ours.store.writing(theirs.stranger.practice_id) as scope:
        with pytest.raises(NotFound):
            reopen_day(scope, theirs.stranger, day)
        with pytest.raises(NotFound):
            feeds.revoke_feed(scope, theirs.stranger, feed, at=NOW)


def test_free_times_and_hours_of_the_other_room_are_not_told(theirs: Theirs) -> None:
    with theirs.practice.store.reading(theirs.stranger.practice_id) as scope:
        assert booking_hours.hours_of(scope, theirs.room) == ()
        assert booking_free.free_on(scope, theirs.room, date(2026, 3, 30), 20, at=NOW) == ()
        assert bookings.purposes(scope)
