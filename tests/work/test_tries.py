"""Guessing is slowed, from one place and from many; nobody is slowed by others where they belong."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from sqlmodel import select

from app.storage.columns import now
from app.storage.database import Store
from app.storage.logins import TryCount
from app.work import log_ins, tries
from app.work.session_rows import Place, key_of
from app.work.tries import Kind, admit, was_right
from tests.people import PASSWORD, Practice

ELSEWHERE = Place(address="203.0.113.9")
NOON = "2026-03-27 12:00:00+00:00"


def made(practice: Practice, who: str, place: Place, tries_made: int, kind: Kind = Kind.PASSWORD) -> list[int]:
    """The seconds that each of some wrong tries, made at once, had to wait."""
    return [admit(practice.store, kind, who, place).wait_s for _ in range(tries_made)]


def known(practice: Practice, login: str, address: str = "192.0.2.7") -> Place:
    """A machine where the person has logged in wholly."""
    begun = log_ins.log_in(practice.store, login=login, password=PASSWORD, place=Place(address=address))
    return Place(address="198.51.100.1", machine=key_of(begun.machine_token))


def test_a_few_failures_cost_nothing_and_then_each_waits_longer(practice: Practice) -> None:
    waits = []
    moment = now()
    for _ in range(12):
        with time_machine.travel(moment, tick=False):
            waits.append(admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE).wait_s)
        moment += timedelta(seconds=waits[-1])
        with time_machine.travel(moment, tick=False):
            if waits[-1]:
                assert admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE).wait_s == 0

    assert waits[:9] == [0, 0, 0, 0, 0, 2, 4, 8, 16]


@time_machine.travel(NOON, tick=False)
def test_after_a_thousand_wrong_tries_from_elsewhere_the_person_gets_in_at_once_at_their_machine(
    practice: Practice,
) -> None:
    """A thousand with the name, from one address and from a thousand."""
    machine = known(practice, "tomke")
    made(practice, "tomke", ELSEWHERE, 500)
    for number in range(500):
        admit(practice.store, Kind.PASSWORD, "tomke", Place(address=f"203.0.{number // 250}.{number % 250}"))
    at_the_machine = admit(practice.store, Kind.PASSWORD, "tomke", machine)
    at_the_address = admit(practice.store, Kind.PASSWORD, "tomke", Place(address="192.0.2.7"))
    further = admit(practice.store, Kind.PASSWORD, "tomke", Place(address="198.51.100.77"))

    assert (at_the_machine.wait_s, at_the_address.wait_s) == (0, 0)
    assert further.wait_s > 0


@time_machine.travel(NOON, tick=False)
def test_a_thousand_wrong_tries_from_one_s_own_address_do_not_slow_one_s_machine(practice: Practice) -> None:
    """Somebody in the waiting room's network guesses; the machine at the chair knows its people."""
    machine = known(practice, "tomke")
    made(practice, "tomke", Place(address="192.0.2.7"), 1000)
    here = Place(address="192.0.2.7", machine=machine.machine)

    assert admit(practice.store, Kind.PASSWORD, "tomke", here).wait_s == 0


@time_machine.travel(NOON, tick=False)
def test_guessing_one_name_from_many_addresses_is_slowed(practice: Practice) -> None:
    let = sum(
        admit(practice.store, Kind.PASSWORD, "tomke", Place(address=f"203.0.113.{number}")).wait_s == 0
        for number in range(200)
    )

    assert let == tries.NAME.free


@time_machine.travel(NOON, tick=False)
def test_guessing_many_names_from_one_address_is_slowed(practice: Practice) -> None:
    let = sum(
        admit(practice.store, Kind.PASSWORD, f"name{number}", ELSEWHERE).wait_s == 0 for number in range(200)
    )

    assert let == tries.ADDRESS.free


@time_machine.travel(NOON, tick=False)
def test_one_subscriber_s_addresses_of_ipv6_are_one(practice: Practice) -> None:
    let = sum(
        admit(practice.store, Kind.PASSWORD, f"name{number}", Place(address=f"2001:db8::{number:x}")).wait_s == 0
        for number in range(100)
    )

    assert let == tries.ADDRESS.free


@time_machine.travel(NOON, tick=False)
@pytest.mark.parametrize("address", ["203.0.113.9", "192.0.2.7"])
def test_waiting_does_not_tell_which_names_exist(practice: Practice, address: str) -> None:
    """From elsewhere, and from the practice's own address: the same waits for a name that nobody has."""
    known(practice, "tomke")
    place = Place(address=address)
    real = made(practice, "tomke", place, 20)
    nobody = made(practice, "nobody", place, 20)

    assert real == nobody


def test_nobody_waits_longer_than_the_longest(practice: Practice) -> None:
    with time_machine.travel(NOON, tick=False):
        for hour in range(40):
            with time_machine.travel(f"2026-03-27 {hour // 2:02d}:{30 * (hour % 2):02d}:00+00:00", tick=False):
                made(practice, "tomke", Place(address=f"203.0.113.{hour}"), 3)
                wait = admit(practice.store, Kind.PASSWORD, "tomke", Place(address="198.51.100.5")).wait_s

                assert wait <= tries.NAME.longest_s


def test_a_restart_forgets_nothing(practice: Practice) -> None:
    with time_machine.travel(NOON, tick=False):
        made(practice, "tomke", ELSEWHERE, 5)
        practice.store.close()
        restarted = Store(practice.store.folder)
        restarted.migrate()
        wait = admit(restarted, Kind.PASSWORD, "tomke", ELSEWHERE).wait_s
        restarted.close()

    assert wait > 0


@time_machine.travel(NOON, tick=False)
def test_a_right_try_forgets_its_own_failures_but_not_the_name_s(practice: Practice) -> None:
    """An attacker's guesses elsewhere stay counted while the person comes and goes."""
    made(practice, "tomke", ELSEWHERE, 4)
    was_right(practice.store, admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE))
    with practice.store.reading() as scope:
        counts = {row.key.split(":")[1]: row.failures for row in scope.session.exec(select(TryCount)).all()}

    assert counts == {"at": 4, "name": 4}


@time_machine.travel(NOON, tick=False)
def test_right_tries_are_never_slowed(practice: Practice) -> None:
    for _ in range(40):
        admission = admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE)
        assert admission.wait_s == 0
        was_right(practice.store, admission)

    with practice.store.reading() as scope:
        assert scope.session.exec(select(TryCount)).all() == []


def test_a_clock_that_is_set_back_makes_nobody_wait(practice: Practice) -> None:
    with time_machine.travel(NOON, tick=False):
        made(practice, "tomke", ELSEWHERE, 50)
    with time_machine.travel("2026-03-20 12:00:00+00:00", tick=False):
        wait = admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE).wait_s

    assert wait == 0


def test_counts_of_yesterday_are_deleted(practice: Practice) -> None:
    with time_machine.travel(NOON, tick=False):
        for number in range(50):
            admit(practice.store, Kind.PASSWORD, f"name{number}", Place(address=f"203.0.113.{number}"))
    with time_machine.travel("2026-03-28 12:00:01+00:00", tick=False):
        admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE)
    with practice.store.reading() as scope:
        kept = scope.session.exec(select(TryCount)).all()

    assert len(kept) == 3


@time_machine.travel(NOON, tick=False)
def test_what_was_typed_as_a_name_is_not_kept(practice: Practice) -> None:
    """Twenty bits of its SHA-256 stand for it: a password typed there cannot be found out again."""
    admit(practice.store, Kind.PASSWORD, PASSWORD, ELSEWHERE)
    with practice.store.reading() as scope:
        keys = [row.key for row in scope.session.exec(select(TryCount)).all()]

    assert [len(key.rsplit(":", 1)[1]) for key in keys if ":name:" in key] == [5]
    assert not [key for key in keys if "heron" in key]


@time_machine.travel(NOON, tick=False)
@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_of_secret_is_slowed(practice: Practice, kind: Kind) -> None:
    waits = made(practice, practice.assistant.staff_id, ELSEWHERE, 10, kind)

    assert waits[: tries.OWN.free] == [0] * tries.OWN.free
    assert all(wait > 0 for wait in waits[tries.OWN.free :])


@time_machine.travel(NOON, tick=False)
def test_one_kind_does_not_slow_another(practice: Practice) -> None:
    made(practice, "tomke", ELSEWHERE, 50, Kind.PIN)

    assert admit(practice.store, Kind.PASSWORD, "tomke", ELSEWHERE).wait_s == 0
