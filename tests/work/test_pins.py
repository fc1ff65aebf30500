"""A PIN opens only where its person has logged in wholly that day, and not after five wrong ones."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine

from app.core.errors import InputError
from app.storage.columns import now
from app.work import accounts, log_in_list, log_ins, machines, pins
from app.work.actor import Actor, NotAllowed
from app.work.session_rows import Place, key_of
from tests.people import PASSWORD, Practice

PIN = "402817"
WRONG = "730264"


@pytest.fixture
def chairside(practice: Practice) -> Place:
    """A machine where the assistant, with a PIN, has logged in wholly."""
    give_pin(practice, practice.assistant)
    return logged_in_at(practice, "tomke")


def give_pin(practice: Practice, actor: Actor, pin: str = PIN) -> None:
    with practice.store.writing(actor.practice_id) as scope:
        pins.set_pin(scope, actor, pin, pin)


def logged_in_at(practice: Practice, login: str, place: Place | None = None) -> Place:
    """The machine as it is known after a whole log-in there."""
    begun = log_ins.log_in(practice.store, login=login, password=PASSWORD, place=place or Place())
    return Place(machine=key_of(begun.machine_token))


def here_id(practice: Practice, place: Place) -> str:
    """The one person of a machine."""
    (person,) = machines.people_here(practice.store, place.machine)
    return person.id


def test_the_right_pin_logs_in_as_oneself(practice: Practice, chairside: Place) -> None:
    begun = pins.open_by_pin(practice.store, here_id(practice, chairside), PIN, place=chairside)
    inside = log_ins.logged_in(practice.store, begun.token, idle_minutes=30)

    assert inside is not None
    assert (inside.actor, inside.way) == (practice.assistant, "pin")


def test_each_pin_gives_a_new_token(practice: Practice, chairside: Place) -> None:
    person = here_id(practice, chairside)
    tokens = {pins.open_by_pin(practice.store, person, PIN, place=chairside).token for _ in range(4)}

    assert len(tokens) == 4


def test_five_wrong_pins_shut_it_there_and_the_password_opens_again(practice: Practice, chairside: Place) -> None:
    person = here_id(practice, chairside)
    for _ in range(4):
        with pytest.raises(pins.WrongPin):
            pins.open_by_pin(practice.store, person, WRONG, place=chairside)
    with pytest.raises(pins.PinShut):
        pins.open_by_pin(practice.store, person, WRONG, place=chairside)
    with pytest.raises(pins.PinShut):
        pins.open_by_pin(practice.store, person, PIN, place=chairside)

    again = logged_in_at(practice, "tomke", chairside)

    assert pins.open_by_pin(practice.store, here_id(practice, again), PIN, place=again).token


def test_wrong_pins_at_one_machine_shut_no_other(practice: Practice, chairside: Place) -> None:
    other = logged_in_at(practice, "tomke")
    for _ in range(5):
        with pytest.raises((pins.WrongPin, pins.PinShut)):
            pins.open_by_pin(practice.store, here_id(practice, chairside), WRONG, place=chairside)

    assert pins.open_by_pin(practice.store, here_id(practice, other), PIN, place=other).token


def test_a_right_pin_forgets_the_wrong_ones_before(practice: Practice, chairside: Place) -> None:
    person = here_id(practice, chairside)
    for pin in [WRONG, WRONG, WRONG, WRONG, PIN] * 2:
        if pin == PIN:
            pins.open_by_pin(practice.store, person, pin, place=chairside)
        else:
            with pytest.raises(pins.WrongPin):
                pins.open_by_pin(practice.store, person, pin, place=chairside)

    assert machines.people_here(practice.store, chairside.machine)[0].shut is False


def test_the_person_of_one_machine_cannot_be_opened_at_another(practice: Practice, chairside: Place) -> None:
    """Whoever knows the row's id and the PIN still needs that machine's cookie."""
    person, other = here_id(practice, chairside), logged_in_at(practice, "pell")

    for place in (other, Place(), Place(machine="0" * 64)):
        with pytest.raises(pins.PinShut):
            pins.open_by_pin(practice.store, person, PIN, place=place)


def leave_by_log_out(practice: Practice, place: Place) -> None:
    token = pins.open_by_pin(practice.store, here_id(practice, place), PIN, place=place).token
    log_ins.log_out(practice.store, token, machine=place.machine)


def end_all(practice: Practice, place: Place) -> None:
    with practice.store.writing(practice.assistant.practice_id) as scope:
        log_in_list.end_log_ins(scope, practice.administrator, practice.assistant.staff_id)


def new_password(practice: Practice, place: Place) -> None:
    with practice.store.writing(practice.assistant.practice_id) as scope:
        accounts.set_password(scope, practice.assistant, practice.assistant.staff_id, "four loud herons")


def remove(practice: Practice, place: Place) -> None:
    with practice.store.writing(practice.assistant.practice_id) as scope:
        pins.remove_pin(scope, practice.assistant)


@pytest.mark.parametrize("end", [leave_by_log_out, end_all, new_password, remove])
def test_what_ends_the_trust_in_a_machine_shuts_the_pin(
    practice: Practice, chairside: Place, end: Callable[[Practice, Place], None]
) -> None:
    person = here_id(practice, chairside)
    end(practice, chairside)

    assert machines.people_here(practice.store, chairside.machine) == []
    with pytest.raises(pins.PinShut):
        pins.open_by_pin(practice.store, person, PIN, place=chairside)


def test_locking_keeps_the_pin_open(practice: Practice, chairside: Place) -> None:
    person = here_id(practice, chairside)
    token = pins.open_by_pin(practice.store, person, PIN, place=chairside).token
    log_ins.lock(practice.store, token)

    assert log_ins.logged_in(practice.store, token, idle_minutes=30) is None
    assert pins.open_by_pin(practice.store, person, PIN, place=chairside).token


def test_the_pin_opens_until_the_end_of_the_working_day_only(practice: Practice, chairside: Place) -> None:
    """12 hours after the whole log-in; coming back by PIN does not lengthen it."""
    person, start = here_id(practice, chairside), now()
    with time_machine.travel(start + timedelta(hours=11), tick=False):
        pins.open_by_pin(practice.store, person, PIN, place=chairside)
    with time_machine.travel(start + timedelta(hours=13), tick=False):
        listed = machines.people_here(practice.store, chairside.machine)
        with pytest.raises(pins.PinShut):
            pins.open_by_pin(practice.store, person, PIN, place=chairside)

    assert listed == []


def test_nobody_is_listed_without_a_pin_or_without_a_whole_log_in_there(
    practice: Practice, chairside: Place
) -> None:
    give_pin(practice, practice.front_desk)
    there = logged_in_at(practice, "wilna", chairside)
    listed = machines.people_here(practice.store, there.machine)

    assert [each.name for each in listed] == ["Tomke Rill"]
    assert machines.people_here(practice.store, "") == []


def test_an_administrator_uses_no_pin(practice: Practice) -> None:
    with pytest.raises(NotAllowed):
        give_pin(practice, practice.administrator)


def test_by_pin_a_dentist_who_administers_has_the_dentist_s_rights_only(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        staff = scope.get(accounts.Staff, practice.dentist.staff_id, "person")
        staff.administers = True
        scope.session.add(staff)
    give_pin(practice, practice.dentist)
    begun = log_ins.log_in(practice.store, login="wilna", password=PASSWORD)
    place = Place(machine=key_of(begun.machine_token))
    by_pin = pins.open_by_pin(practice.store, here_id(practice, place), PIN, place=place)
    whole = log_ins.logged_in(practice.store, begun.token, idle_minutes=30)
    switched = log_ins.logged_in(practice.store, by_pin.token, idle_minutes=30)

    assert whole is not None
    assert switched is not None
    assert (whole.actor.administers, switched.actor.administers) == (True, False)


@pytest.mark.parametrize(
    "pin",
    ["", "12345", "4028171234567", "40281a", "٤٠٢٨١٧", "111111", "123456", "654321", "121212", "112233", "147258"],
)
def test_a_pin_that_is_short_or_easy_is_refused(practice: Practice, pin: str) -> None:
    with pytest.raises(InputError) as refused:
        give_pin(practice, practice.assistant, pin)

    assert refused.value.path == "pin"


def test_two_pins_that_differ_are_refused(practice: Practice) -> None:
    with pytest.raises(InputError) as refused, practice.store.writing(practice.assistant.practice_id) as scope:
        pins.set_pin(scope, practice.assistant, PIN, WRONG)

    assert refused.value.path == "pin_again"


def test_the_pin_is_kept_as_argon2id_only(practice: Practice, chairside: Place) -> None:
    with practice.store.reading(practice.assistant.practice_id) as scope:
        row = pins.pin_of(scope, practice.assistant.staff_id)

    assert row is not None
    assert row.pin_hash.startswith("$argon2id$")
    assert PIN not in row.pin_hash
