"""Log-ins of one practice are out of reach for the administrator of another."""

from __future__ import annotations

import pytest

from app.storage.practice_scope import NotFound
from app.work import log_in_list, log_ins
from app.work.session_rows import key_of
from tests.people import PASSWORD, Practice
from tests.work.log_in_use_cases import REACHING, administering


class Theirs:
    """Heron Lane, seen from Otter Yard."""

    def __init__(self, practice: Practice) -> None:
        self.practice = practice
        self.stranger = practice.stranger


@pytest.mark.parametrize("reaching", REACHING())
def test_a_person_of_the_other_practice_is_not_there(practice: Practice, reaching: str) -> None:
    with pytest.raises(NotFound), practice.store.writing(practice.stranger.practice_id) as scope:
        REACHING()[reaching](scope, Theirs(practice))


def test_a_log_in_of_the_other_practice_is_not_ended_by_its_key(practice: Practice) -> None:
    token = log_ins.log_in(practice.store, login="tomke", password=PASSWORD).token
    stranger = administering(Theirs(practice))

    with pytest.raises(NotFound), practice.store.writing(stranger.practice_id) as scope:
        log_in_list.end_log_in(scope, stranger, stranger.staff_id, key_of(token))

    assert log_ins.logged_in(practice.store, token, idle_minutes=30) is not None


def test_the_list_of_people_holds_nobody_of_the_other_practice(practice: Practice) -> None:
    with practice.store.reading(practice.stranger.practice_id) as scope:
        found = log_in_list.colleagues(scope, administering(Theirs(practice)), idle_minutes=30)

    assert [each.name for each in found] == ["Dr Isko Vell"]
