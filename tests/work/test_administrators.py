"""The program is always administered by somebody."""

from __future__ import annotations

import threading

import pytest

from app.core.errors import InputError
from app.storage.people import Staff
from app.work import accounts
from app.work.actor import ADMINISTRATORS, Actor
from app.work.administrators import administrators_of, set_duty
from tests.people import Practice


def duty(practice: Practice, actor: Actor, whom: Actor, *, administers: bool) -> None:
    with practice.store.writing(actor.practice_id) as scope:
        set_duty(scope, actor, whom.staff_id, administers=administers)


def close(practice: Practice, actor: Actor, whom: Actor) -> None:
    with practice.store.writing(actor.practice_id) as scope:
        accounts.retire_staff(scope, actor, whom.staff_id, retired=True)


def present(practice: Practice, whom: Actor) -> Actor:
    """The person as they are now."""
    with practice.store.reading(whom.practice_id) as scope:
        return accounts.actor_of(scope.get(Staff, whom.staff_id, "person"))


def who(practice: Practice) -> list[str]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return [each.login for each in administrators_of(scope)]


def test_the_duty_beside_a_role_adds_rights_and_takes_none(practice: Practice) -> None:
    duty(practice, practice.administrator, practice.assistant, administers=True)
    now = present(practice, practice.assistant)

    assert now.may(ADMINISTRATORS)
    assert now.role == practice.assistant.role
    assert who(practice) == ["ruan", "tomke"]


def test_the_last_administrator_s_log_in_cannot_be_closed(practice: Practice) -> None:
    """Ruan gives the duty to nobody: a colleague's session from before may not close him either."""
    duty(practice, practice.administrator, practice.dentist, administers=True)
    dentist = present(practice, practice.dentist)
    duty(practice, practice.administrator, practice.dentist, administers=False)

    with pytest.raises(InputError, match="Ruan Teale is the last who administers the program"):
        close(practice, dentist, practice.administrator)
    assert who(practice) == ["ruan"]


def test_the_last_duty_cannot_be_given_back(practice: Practice) -> None:
    duty(practice, practice.administrator, practice.dentist, administers=True)
    dentist = present(practice, practice.dentist)
    close(practice, dentist, practice.administrator)

    with pytest.raises(InputError, match="is the last who administers the program"):
        duty(practice, dentist, dentist, administers=False)
    assert who(practice) == ["wilna"]


def test_a_closed_log_in_does_not_count_as_an_administrator(practice: Practice) -> None:
    duty(practice, practice.administrator, practice.dentist, administers=True)
    duty(practice, practice.administrator, practice.assistant, administers=True)
    close(practice, practice.administrator, practice.dentist)
    close(practice, present(practice, practice.assistant), practice.administrator)

    with pytest.raises(InputError, match="is the last"):
        duty(practice, present(practice, practice.assistant), practice.assistant, administers=False)
    assert who(practice) == ["tomke"]


def test_two_who_take_the_duty_from_each_other_leave_one(practice: Practice) -> None:
    duty(practice, practice.administrator, practice.dentist, administers=True)
    duty(practice, practice.administrator, practice.assistant, administers=True)
    close(practice, present(practice, practice.dentist), practice.administrator)
    dentist, assistant = present(practice, practice.dentist), present(practice, practice.assistant)
    together = threading.Barrier(2)
    told: list[str] = []

    def take(actor: Actor, whom: Actor) -> None:
        together.wait()
        try:
            duty(practice, actor, whom, administers=False)
        except InputError as error:
            told.append(error.message)

    threads = [threading.Thread(target=take, args=each) for each in ((dentist, assistant), (assistant, dentist))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(who(practice)) == 1
    assert len(told) == 1


def test_an_administrator_by_role_has_no_second_duty(practice: Practice) -> None:
    with pytest.raises(InputError, match="is an administrator by role"):
        duty(practice, practice.administrator, practice.administrator, administers=False)


def test_a_closed_log_in_is_given_no_duty(practice: Practice) -> None:
    close(practice, practice.administrator, practice.assistant)

    with pytest.raises(InputError, match="is closed"):
        duty(practice, practice.administrator, practice.assistant, administers=True)


@pytest.mark.parametrize(("dentist", "role"), [(True, "dentist"), (False, "administrator")])
def test_whoever_sets_the_practice_up_administers_it(tmp_path, dentist: bool, role: str) -> None:
    from app.storage.database import Store

    store = Store(tmp_path / "data")
    store.migrate()
    words = {"practice_name": "Heron Lane", "name": "A B", "login": "ab", "password": "four grey stones"}
    actor = accounts.first_start(store, **words, dentist=dentist)
    store.close()

    assert (actor.role, actor.may(ADMINISTRATORS)) == (role, True)
