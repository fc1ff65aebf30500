"""``administrator``: whoever sits at the machine replaces a forgotten password, and nobody else is touched."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from app.cli import main
from app.storage.people import Staff
from app.work.accounts import retire_staff
from app.work.administrators import set_duty
from app.work.log_ins import WrongLogIn, log_in, logged_in
from app.work.machine import set_administrator
from tests.cli.terminals import terminal
from tests.people import PASSWORD, Practice, founded, hash_lightly
from tests.work.log_in_use_cases import with_factor

NEW = "seven slow otters"


@pytest.fixture
def heron(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Practice]:
    """The cast, in a folder that the command finds."""
    hash_lightly(monkeypatch)
    made = founded(tmp_path / "data")
    yield made
    made.store.close()


@dataclass(frozen=True)
class Done:
    """How a call ended."""

    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Done]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The command as it is called, in this process and without a terminal."""

    def call(folder: Path, *arguments: str, given: str = "") -> Done:
        monkeypatch.setenv("FULLCOUNT_DATA_FOLDER", str(folder))
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(given.encode())))
        capsys.readouterr()
        status = main(["administrator", *arguments])
        told = capsys.readouterr()
        return Done(status, told.out, told.err)

    return call


def opens(practice: Practice, login: str, password: str) -> bool:
    try:
        log_in(practice.store, login=login, password=password)
    except WrongLogIn:
        return False
    return True


def row(practice: Practice, login: str) -> Staff | None:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return scope.first(scope.select(Staff).where(Staff.login == login))


def test_the_password_is_replaced_and_that_person_s_log_ins_end(run: Run, heron: Practice) -> None:
    hers = log_in(heron.store, login="ruan", password=PASSWORD).token
    others = log_in(heron.store, login="wilna", password=PASSWORD).token
    done = run(heron.store.folder, "ruan", "--password-file", "-", given=f"{NEW}\n")

    assert (done.returncode, done.stdout) == (0, "")
    assert "Ruan Teale" in done.stderr
    assert (opens(heron, "ruan", NEW), opens(heron, "ruan", PASSWORD)) == (True, False)
    assert logged_in(heron.store, hers, idle_minutes=30) is None
    assert logged_in(heron.store, others, idle_minutes=30) is not None


def test_a_dentist_with_the_duty_is_an_administrator_too(run: Run, heron: Practice) -> None:
    with heron.store.writing(heron.administrator.practice_id) as scope:
        set_duty(scope, heron.administrator, heron.dentist.staff_id, administers=True)
    done = run(heron.store.folder, "wilna", "--password-file", "-", given=NEW)

    assert done.returncode == 0
    assert opens(heron, "wilna", NEW)


def test_a_closed_administrator_can_log_in_again(run: Run, heron: Practice) -> None:
    with heron.store.writing(heron.administrator.practice_id) as scope:
        set_duty(scope, heron.administrator, heron.dentist.staff_id, administers=True)
        retire_staff(scope, replace(heron.dentist, administers=True), heron.administrator.staff_id, retired=True)
    run(heron.store.folder, "ruan", "--password-file", "-", given=NEW)

    assert opens(heron, "ruan", NEW)


def test_an_administrator_is_made_where_nobody_has_the_name(run: Run, heron: Practice) -> None:
    done = run(heron.store.folder, "nele", "--name", "Nele Voss", "--password-file", "-", given=NEW)
    made = row(heron, "nele")

    assert done.returncode == 0
    assert made is not None
    assert (made.name, made.role, made.practice_id) == ("Nele Voss", "administrator", heron.dentist.practice_id)
    assert opens(heron, "nele", NEW)


@pytest.mark.parametrize(
    ("arguments", "given", "told"),
    [
        (("tomke",), NEW, "login: Tomke Rill does not administer the program."),
        (("nele",), NEW, '--name: nobody has the log-in name "nele".'),
        (("ruan", "--name", "Other"), NEW, '--name: "ruan" is Ruan Teale already.'),
        (("ruan",), "short", "password: a password needs at least 10 characters."),
        (("ruan",), "", "password: a password needs at least 10 characters."),
        ((), NEW, "LOGIN: name the administrator's log-in. Administering now: isko, ruan."),
        (("Not One",), NEW, 'login: "Not One" cannot be a log-in name.'),
    ],
)
def test_a_wrong_call_is_told_in_one_line_and_changes_nothing(
    run: Run, heron: Practice, arguments: tuple[str, ...], given: str, told: str
) -> None:
    done = run(heron.store.folder, *arguments, "--password-file", "-", given=given)

    assert done.returncode == 2
    assert done.stderr.startswith(told)
    assert done.stderr.count("\n") == 1
    assert row(heron, "nele") is None
    assert opens(heron, "ruan", PASSWORD)
    assert opens(heron, "tomke", PASSWORD)


def test_without_a_terminal_a_password_is_never_asked_for(run: Run, heron: Practice) -> None:
    done = run(heron.store.folder, "ruan")

    assert done.returncode == 2
    assert done.stderr.startswith("--password-file: there is no terminal to ask on.")


def test_an_empty_folder_has_nobody_to_replace(run: Run, tmp_path: Path) -> None:
    done = run(tmp_path / "new", "ruan", "--name", "Ruan", "--password-file", "-", given=NEW)

    assert done.returncode == 2
    assert "nobody works here yet" in done.stderr


def test_the_password_comes_from_the_first_line_of_a_file(run: Run, heron: Practice, tmp_path: Path) -> None:
    file = tmp_path / "secret"
    file.write_text(f" {NEW} \r\nsecond line\n")
    run(heron.store.folder, "ruan", "--password-file", str(file))

    assert opens(heron, "ruan", f" {NEW} ")


def test_on_a_terminal_it_names_who_administers_and_asks_for_the_password_unseen(heron: Practice) -> None:
    with terminal(heron.store.folder, "administrator") as screen:
        screen.answer("a new one: ", "ruan")
        screen.answer("characters: ", NEW)
        screen.answer("once more: ", NEW)
        screen.until("has the new password")
        status = screen.end()

    assert status == 0
    assert "Administering now: isko, ruan." in screen.screen
    assert NEW not in screen.screen
    assert opens(heron, "ruan", NEW)


def test_on_a_terminal_a_new_administrator_is_asked_for_by_name(heron: Practice) -> None:
    with terminal(heron.store.folder, "administrator", "nele") as screen:
        screen.answer("Name of the new administrator: ", "Nele Voss")
        screen.answer("characters: ", NEW)
        screen.answer("once more: ", NEW)
        screen.until("is an administrator now")

    assert opens(heron, "nele", NEW)


def test_a_lost_telephone_does_not_keep_the_last_administrator_out(heron: Practice) -> None:
    """Whoever sits at the machine replaces password and second factor."""
    with heron.store.writing(heron.administrator.practice_id) as scope:
        with_factor(scope, heron.administrator)
    asked = log_in(heron.store, login="ruan", password=PASSWORD).code_asked
    set_administrator(heron.store, login="ruan", password=NEW)

    assert asked
    assert not log_in(heron.store, login="ruan", password=NEW).code_asked
