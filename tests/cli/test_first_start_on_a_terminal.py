"""The first start on the machine: asked on a terminal, a code without one, and never a password that we chose."""

from __future__ import annotations

import re
import signal
from pathlib import Path

import pytest
from sqlmodel import select

from app.storage.database import Store
from app.storage.people import Staff
from app.storage.practice import Practice
from app.work.log_ins import WrongLogIn, log_in
from tests.cli.terminals import Terminal, terminal
from tests.cli.test_serve import answered, served

PASSWORD = "four grey stones"


def people(folder: Path) -> list[tuple[str, str, bool]]:
    """Log-in name, role and duty of everybody."""
    store = Store(folder)
    store.migrate()
    with store.reading() as scope:
        rows = [(each.login, each.role, each.administers) for each in scope.session.exec(select(Staff)).all()]
    store.close()
    return rows


def opens(folder: Path, login: str, password: str) -> bool:
    store = Store(folder)
    try:
        log_in(store, login=login, password=password)
    except WrongLogIn:
        return False
    finally:
        store.close()
    return True


def set_up(screen: Terminal, dentist: str) -> None:
    screen.answer("Name of the practice: ", "Heron Lane")
    screen.answer("sign: ", "Ruan Teale")
    screen.answer("dashes: ", "ruan")
    screen.answer("(yes or no): ", dentist)
    screen.answer("characters: ", PASSWORD)
    screen.answer("once more: ", PASSWORD)


@pytest.mark.parametrize(("dentist", "kept"), [("no", ("administrator", False)), ("y", ("dentist", True))])
def test_on_a_terminal_it_asks_before_it_serves(tmp_path: Path, dentist: str, kept: tuple[str, bool]) -> None:
    folder = tmp_path / "data"
    with terminal(folder, "serve", "--port", "0") as screen:
        screen.until("Nobody works in")
        before = screen.screen
        set_up(screen, dentist)
        screen.until("\r\nfullcount answers at ")
        shown = screen.until("\n")
        address = re.search(r"http://[0-9.:]+", shown)
        assert address is not None
        page = answered(address.group())
        screen.process.send_signal(signal.SIGTERM)
        screen.end()

    assert "answers at" not in before
    assert "Log in" in page.text
    assert "first-start" not in shown
    assert PASSWORD not in screen.screen
    assert people(folder) == [("ruan", *kept)]
    assert opens(folder, "ruan", PASSWORD)


def test_a_wrong_answer_is_told_and_asked_again(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with terminal(folder, "serve", "--port", "0") as screen:
        screen.answer("practice: ", " ")
        screen.until("This is empty. Fill it in.")
        screen.answer("practice: ", "Heron Lane")
        screen.answer("sign: ", "Ruan Teale")
        screen.answer("dashes: ", "not a log-in")
        screen.until('"not a log-in" cannot be a log-in name.')
        screen.answer("dashes: ", "ruan")
        screen.answer("(yes or no): ", "perhaps")
        screen.answer("(yes or no): ", "no")
        screen.answer("characters: ", "short")
        screen.until("A password needs at least 10 characters.")
        screen.answer("characters: ", PASSWORD)
        screen.answer("once more: ", "four grey stone")
        screen.until("The two are not the same.")
        screen.answer("characters: ", PASSWORD)
        screen.answer("once more: ", PASSWORD)
        screen.until("Heron Lane is set up.")

    assert opens(folder, "ruan", PASSWORD)


@pytest.mark.parametrize("key", ["\x03", "\x04"])
def test_leaving_before_the_end_keeps_nothing(tmp_path: Path, key: str) -> None:
    folder = tmp_path / "data"
    with terminal(folder, "serve", "--port", "0") as screen:
        screen.answer("practice: ", "Heron Lane")
        screen.answer("sign: ", "Ruan Teale")
        screen.until("dashes: ")
        screen.type(key)
        status = screen.end()
    store = Store(folder)
    with store.reading() as scope:
        practices = scope.session.exec(select(Practice)).all()
    store.close()

    assert status in (130, 2)
    assert people(folder) == []
    assert practices == []


def test_a_second_start_asks_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with terminal(folder, "serve", "--port", "0") as screen:
        set_up(screen, "no")
        screen.until("fullcount answers at")
    with terminal(folder, "serve", "--port", "0") as screen:
        told = screen.until("fullcount answers at")

    assert "Name of the practice" not in told


def test_without_a_terminal_the_page_takes_the_code(tmp_path: Path) -> None:
    with served(tmp_path / "data") as (address, process):
        page = answered(address)
        assert process.stdout is not None
        told = process.stdout.readline() + process.stdout.readline()

    assert "Code from the terminal" in page.text
    assert re.search(r"^  [a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}$", told, re.MULTILINE)


def test_a_new_folder_holds_nobody_and_no_password_of_ours(tmp_path: Path) -> None:
    """Nothing that stands in the program or its demo logs anybody in before somebody chose a password."""
    from seed.people import DEMO_PASSWORD, STAFF

    folder = tmp_path / "data"
    with served(folder) as (address, _):
        answered(address)

    assert people(folder) == []
    assert not any(opens(folder, each.login, DEMO_PASSWORD) for each in STAFF)


def test_the_demo_s_password_stands_nowhere_in_the_program() -> None:
    from seed.people import DEMO_PASSWORD

    root = Path(__file__).resolve().parents[2]
    files = [each for room in ("app", "templates", "static", "shared") for each in (root / room).rglob("*.*")]
    naming = [str(each) for each in files if each.suffix != ".pyc" and DEMO_PASSWORD.encode() in each.read_bytes()]

    assert len(files) > 300
    assert naming == []
