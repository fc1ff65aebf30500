"""Log-ins begin with the right password only, and end when they should."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlmodel import select

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.database import Store
from app.storage.people import LoginSession, Staff
from app.work import accounts, log_ins
from app.work.accounts import AlreadySetUp
from app.work.log_ins import WrongLogIn, log_out, logged_in
from tests.people import PASSWORD, Practice, hash_lightly

NEW = "a wholly other phrase"


def log_in(store: Store, *, login: str, password: str) -> str:
    """A token of a new log-in."""
    return log_ins.log_in(store, login=login, password=password).token


def is_in(practice: Practice, token: str) -> bool:
    """Whether the token opens a page."""
    return logged_in(practice.store, token, idle_minutes=30) is not None


def test_the_right_password_logs_in_as_oneself(practice: Practice) -> None:
    token = log_in(practice.store, login=" Tomke ", password=PASSWORD)
    inside = logged_in(practice.store, token, idle_minutes=30)

    assert inside is not None
    assert inside.actor == practice.assistant
    assert (inside.practice_name, inside.numbering) == ("Heron Lane", "iso3950")


@pytest.mark.parametrize(
    ("login", "password"),
    [
        ("tomke", "three quiet heron"),
        ("tomke", PASSWORD + " "),
        ("tomke", ""),
        ("tomke", "x" * 5000),
        ("nobody", PASSWORD),
        ("", ""),
        ("tomke' --", PASSWORD),
    ],
)
def test_a_wrong_name_and_a_wrong_password_are_told_alike(practice: Practice, login: str, password: str) -> None:
    with pytest.raises(WrongLogIn) as refused:
        log_in(practice.store, login=login, password=password)

    assert str(refused.value) == "log-in name or password is wrong. Check both and try again"


def test_nothing_kept_opens_a_page_by_itself(practice: Practice) -> None:
    """The database holds neither the token nor the password, so reading it logs nobody in."""
    token = log_in(practice.store, login="tomke", password=PASSWORD)
    with practice.store.engine.connect() as connection:
        kept = str(connection.execute(text("SELECT * FROM login_session")).all())
        kept += str(connection.execute(text("SELECT * FROM staff")).all())

    assert "$argon2id$" in kept
    assert token not in kept
    assert PASSWORD not in kept


@pytest.mark.parametrize("token", ["", "x", "../..", "0" * 64])
def test_an_unknown_token_opens_nothing(practice: Practice, token: str) -> None:
    log_in(practice.store, login="tomke", password=PASSWORD)

    assert not is_in(practice, token)


def test_two_log_ins_never_share_a_token(practice: Practice) -> None:
    tokens = {log_in(practice.store, login="tomke", password=PASSWORD) for _ in range(20)}

    assert len(tokens) == 20


def test_logging_out_ends_that_log_in_on_the_server_and_no_other(practice: Practice) -> None:
    here = log_in(practice.store, login="tomke", password=PASSWORD)
    there = log_in(practice.store, login="tomke", password=PASSWORD)
    log_out(practice.store, here)
    log_out(practice.store, "unknown")

    assert (is_in(practice, here), is_in(practice, there)) == (False, True)


def last_seen(practice: Practice, minutes_ago: float) -> None:
    """Have every log-in seen last some minutes ago."""
    with practice.store.writing() as scope:
        for row in scope.session.exec(select(LoginSession)):
            row.last_seen_at = now() - timedelta(minutes=minutes_ago)
            scope.session.add(row)


def test_a_log_in_ends_when_it_was_idle_too_long(practice: Practice) -> None:
    token = log_in(practice.store, login="tomke", password=PASSWORD)
    last_seen(practice, 31)

    assert not is_in(practice, token)


def test_every_page_keeps_a_log_in_alive(practice: Practice) -> None:
    """Seen after 20 of 30 minutes, it has 30 again."""
    token = log_in(practice.store, login="tomke", password=PASSWORD)
    last_seen(practice, 20)
    before = now()
    alive = is_in(practice, token)

    assert alive
    with practice.store.reading() as scope:
        assert scope.session.exec(select(LoginSession)).one().last_seen_at >= before


def test_an_idle_log_in_does_not_come_back_to_life(practice: Practice) -> None:
    token = log_in(practice.store, login="tomke", password=PASSWORD)
    last_seen(practice, 31)
    is_in(practice, token)

    assert not is_in(practice, token)


def test_a_new_password_ends_every_log_in_of_that_person_only(practice: Practice) -> None:
    hers = [log_in(practice.store, login="tomke", password=PASSWORD) for _ in range(2)]
    his = log_in(practice.store, login="pell", password=PASSWORD)
    with practice.store.writing(practice.administrator.practice_id) as scope:
        accounts.set_password(scope, practice.assistant, practice.assistant.staff_id, NEW)

    assert [is_in(practice, token) for token in (*hers, his)] == [False, False, True]


def test_after_a_new_password_the_old_one_is_wrong(practice: Practice) -> None:
    with practice.store.writing(practice.administrator.practice_id) as scope:
        accounts.set_password(scope, practice.administrator, practice.assistant.staff_id, NEW)

    with pytest.raises(WrongLogIn):
        log_in(practice.store, login="tomke", password=PASSWORD)
    assert is_in(practice, log_in(practice.store, login="tomke", password=NEW))


@pytest.mark.parametrize(
    "weak",
    ["", "nine char", "x" * 12, "abababababab", "1234567890", "QWERTYUIOP", "Password123", "a long phrase " * 19],
)
def test_a_weak_or_overlong_password_is_refused_and_the_old_one_stays(practice: Practice, weak: str) -> None:
    """At least 10 characters of at least 5 kinds, at most 256 (OWASP ASVS 5.0, late draft, asks for 8)."""
    with (
        pytest.raises(InputError) as refused,
        practice.store.writing(practice.administrator.practice_id) as scope,
    ):
        accounts.set_password(scope, practice.assistant, practice.assistant.staff_id, weak)

    assert refused.value.path == "password"
    assert is_in(practice, log_in(practice.store, login="tomke", password=PASSWORD))


def test_a_retired_person_is_out_at_once_and_stays_out(practice: Practice) -> None:
    token = log_in(practice.store, login="tomke", password=PASSWORD)
    with practice.store.writing(practice.administrator.practice_id) as scope:
        accounts.retire_staff(scope, practice.administrator, practice.assistant.staff_id, retired=True)

    assert not is_in(practice, token)
    with pytest.raises(WrongLogIn, match="log-in name or password is wrong"):
        log_in(practice.store, login="tomke", password=PASSWORD)


def test_a_person_who_comes_back_logs_in_anew(practice: Practice) -> None:
    """The log-ins from before do not come back with the person."""
    before = log_in(practice.store, login="tomke", password=PASSWORD)
    with practice.store.writing(practice.administrator.practice_id) as scope:
        accounts.retire_staff(scope, practice.administrator, practice.assistant.staff_id, retired=True)
        accounts.retire_staff(scope, practice.administrator, practice.assistant.staff_id, retired=False)
    after = log_in(practice.store, login="tomke", password=PASSWORD)

    assert (is_in(practice, before), is_in(practice, after)) == (False, True)


def test_nobody_locks_themselves_out(practice: Practice) -> None:
    with (
        pytest.raises(InputError, match="cannot close your own log-in"),
        practice.store.writing(practice.administrator.practice_id) as scope,
    ):
        accounts.retire_staff(scope, practice.administrator, practice.administrator.staff_id, retired=True)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"login": "TOMKE"}, "login"),
        ({"login": "isko"}, "login"),
        ({"login": "x"}, "login"),
        ({"login": "two words"}, "login"),
        ({"login": "-dash"}, "login"),
        ({"role": "dentits"}, "role"),
        ({"name": " "}, "name"),
        ({"password": "short"}, "password"),
    ],
)
def test_a_person_added_with_a_wrong_field_is_not_added(
    practice: Practice, wrong: dict[str, str], field: str
) -> None:
    """A log-in name is one person's in the whole data folder: isko works at Otter Yard."""
    right = {"name": "New One", "login": "new.one", "role": "assistant", "password": NEW}

    with (
        pytest.raises(InputError) as refused,
        practice.store.writing(practice.administrator.practice_id) as scope,
    ):
        accounts.add_staff(scope, practice.administrator, **(right | wrong))

    assert refused.value.path == field
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert len(scope.all(scope.select(Staff))) == 4


def test_a_mistyped_role_is_answered_with_the_nearest(practice: Practice) -> None:
    with (
        pytest.raises(InputError, match='Did you mean "dentist"'),
        practice.store.writing(practice.administrator.practice_id) as scope,
    ):
        accounts.add_staff(scope, practice.administrator, name="N", login="new.one", role="dentits", password=NEW)


def test_the_first_start_is_over_once_somebody_works_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hash_lightly(monkeypatch)
    store = Store(tmp_path / "data")
    store.migrate()
    before = accounts.is_first_start(store)
    words = {"practice_name": "Heron Lane", "name": "Dr Wilna", "login": "wilna", "password": PASSWORD}
    accounts.first_start(store, **words)

    assert (before, accounts.is_first_start(store)) == (True, False)
    with pytest.raises(AlreadySetUp):
        accounts.first_start(store, **(words | {"login": "second"}))
    store.close()


def test_a_first_start_with_a_wrong_field_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hash_lightly(monkeypatch)
    store = Store(tmp_path / "data")
    store.migrate()
    words = {"practice_name": "Heron Lane", "name": "Dr Wilna", "login": "not a log-in", "password": PASSWORD}

    with pytest.raises(InputError, match="login"):
        accounts.first_start(store, **words)

    assert accounts.is_first_start(store)
    with store.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM practice")).scalar_one() == 0
    store.close()
