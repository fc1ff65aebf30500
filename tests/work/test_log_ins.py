"""Log-ins: each has its own token, ends after its hours, is seen and ended by its person or an administrator."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from app.storage.columns import now
from app.storage.people import Staff
from app.storage.practice_scope import NotFound
from app.work import log_in_list, log_ins, machines, passwords
from app.work.session_rows import Place, key_of
from tests.people import PASSWORD, Practice

DESK = Place(address="192.0.2.7", browser="Firefox on Linux")


def begun(practice: Practice, login: str = "tomke", place: Place = DESK) -> str:
    """The token of a new log-in."""
    return log_ins.log_in(practice.store, login=login, password=PASSWORD, place=place).token


def is_in(practice: Practice, token: str, hours: int = 16) -> bool:
    """Whether the token opens a page."""
    return log_ins.logged_in(practice.store, token, idle_minutes=600, hours=hours) is not None


def test_a_busy_log_in_ends_after_its_hours(practice: Practice) -> None:
    """Seen every hour, it opens pages for 16 hours and not for 17."""
    start, opened = now(), []
    with time_machine.travel(start, tick=False):
        token = begun(practice)
    for hour in range(1, 18):
        with time_machine.travel(start + timedelta(hours=hour), tick=False):
            opened.append(is_in(practice, token))

    assert opened == [True] * 16 + [False]


def test_a_clock_that_is_set_back_ends_no_log_in(practice: Practice) -> None:
    token = begun(practice)

    with time_machine.travel(now() - timedelta(days=2), tick=False):
        assert is_in(practice, token)


def test_the_list_tells_where_from_and_since_when(practice: Practice) -> None:
    token = begun(practice)
    with practice.store.reading(practice.assistant.practice_id) as scope:
        (line,) = log_in_list.log_ins_of(scope, practice.assistant, practice.assistant.staff_id, idle_minutes=30)

    assert (line.key, line.address, line.browser) == (key_of(token), "192.0.2.7", "Firefox on Linux")
    assert (line.way, line.begun_at <= now()) == ("password", True)


def test_the_list_holds_only_log_ins_that_open_pages(practice: Practice) -> None:
    begun(practice)
    log_ins.log_out(practice.store, begun(practice))

    with (
        time_machine.travel(now() + timedelta(minutes=31), tick=False),
        practice.store.reading(practice.assistant.practice_id) as scope,
    ):
        idle = log_in_list.log_ins_of(scope, practice.assistant, practice.assistant.staff_id, idle_minutes=30)
        longer = log_in_list.log_ins_of(scope, practice.assistant, practice.assistant.staff_id, idle_minutes=60)

    assert (len(idle), len(longer)) == (0, 1)


def test_a_person_ends_one_log_in_and_no_other(practice: Practice) -> None:
    lost, here = begun(practice), begun(practice)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        log_in_list.end_log_in(scope, practice.assistant, practice.assistant.staff_id, key_of(lost))

    assert (is_in(practice, lost), is_in(practice, here)) == (False, True)


def test_a_person_ends_all_others_at_once(practice: Practice) -> None:
    others, here, colleague = [begun(practice) for _ in range(3)], begun(practice), begun(practice, "pell")
    with practice.store.writing(practice.assistant.practice_id) as scope:
        ended = log_in_list.end_log_ins(scope, practice.assistant, practice.assistant.staff_id, but=key_of(here))

    assert ended == 3
    assert [is_in(practice, each) for each in (*others, here, colleague)] == [False] * 3 + [True] * 2


def test_an_administrator_ends_a_colleague_s(practice: Practice) -> None:
    token = begun(practice)
    with practice.store.writing(practice.administrator.practice_id) as scope:
        log_in_list.end_log_ins(scope, practice.administrator, practice.assistant.staff_id)

    assert not is_in(practice, token)


def test_a_colleague_s_key_under_one_s_own_name_ends_nothing(practice: Practice) -> None:
    token = begun(practice, "wilna")

    with (
        pytest.raises(NotFound),
        practice.store.writing(practice.assistant.practice_id) as scope,
    ):
        log_in_list.end_log_in(scope, practice.assistant, practice.assistant.staff_id, key_of(token))

    assert is_in(practice, token)


def test_every_whole_log_in_gives_the_machine_a_new_token(practice: Practice) -> None:
    """A cookie that somebody planted is worth nothing after: the machine's people stand under the new one."""
    first = log_ins.log_in(practice.store, login="tomke", password=PASSWORD, place=DESK)
    planted = Place(machine=key_of(first.machine_token))
    second = log_ins.log_in(practice.store, login="pell", password=PASSWORD, place=planted)
    with practice.store.reading() as scope:
        rows = scope.session.exec(machines.select(machines.MachinePerson)).all()

    assert first.machine_token != second.machine_token
    assert {row.machine for row in rows} == {key_of(second.machine_token)}
    assert {row.staff_id for row in rows} == {practice.assistant.staff_id, practice.front_desk.staff_id}


def kept_hash(practice: Practice) -> str:
    """The hash of tomke's password as it is kept."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return scope.get(Staff, practice.assistant.staff_id, "person").password_hash


def test_a_log_in_makes_the_hash_anew_when_more_effort_is_asked(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = kept_hash(practice)
    harder = PasswordHash((Argon2Hasher(time_cost=2, memory_cost=64, parallelism=1),))
    monkeypatch.setattr(passwords, "_hashing", harder)
    begun(practice)
    after = kept_hash(practice)
    begun(practice)

    assert "m=8,t=1" in before
    assert "m=64,t=2" in after
    assert kept_hash(practice) == after


def test_a_wrong_password_leaves_the_hash_as_it_was(practice: Practice, monkeypatch: pytest.MonkeyPatch) -> None:
    before = kept_hash(practice)
    harder = PasswordHash((Argon2Hasher(time_cost=2, memory_cost=64, parallelism=1),))
    monkeypatch.setattr(passwords, "_hashing", harder)

    with pytest.raises(log_ins.WrongLogIn):
        log_ins.log_in(practice.store, login="tomke", password="wrong words here")

    assert kept_hash(practice) == before


def test_an_unknown_name_costs_the_same_reckoning(practice: Practice, monkeypatch: pytest.MonkeyPatch) -> None:
    """Known, retired, unknown, or a password too long to be one: one hash is reckoned each time."""
    reckoned: list[str] = []
    real = passwords._hashing

    class Counting:
        def verify_and_update(self, password: str, kept: str) -> tuple[bool, str | None]:
            reckoned.append(kept)
            return real.verify_and_update(password, kept)

    monkeypatch.setattr(passwords, "_hashing", Counting())
    for login, password in (("tomke", "wrong words"), ("nobody", "wrong words"), ("tomke", "x" * 5000), ("", "")):
        with pytest.raises(log_ins.WrongLogIn):
            log_ins.log_in(practice.store, login=login, password=password)

    assert len(reckoned) == 4
