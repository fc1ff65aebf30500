"""Questions on the terminal: each is asked until its answer can be taken; passwords are typed unseen, twice."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Callable

from app.core.errors import InputError
from app.work import passwords

YES_OR_NO = {"y": True, "yes": True, "n": False, "no": False}


def on_a_terminal() -> bool:
    """Whether somebody sits before this process, to be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask(question: str, checked: Callable[[str], str]) -> str:
    """The answer, once ``checked`` takes it.

    Parameters
    ----------
    checked : answers what is kept of a line, or raises `InputError` with what is wrong with it

    Raises
    ------
    InputError
        The terminal was closed before an answer came.
    """
    while True:
        print(f"{question}: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise InputError("terminal", "it was closed before the questions were answered. Nothing was kept")
        try:
            return checked(line.rstrip("\r\n"))
        except InputError as error:
            _say(error.message)


def ask_yes_or_no(question: str) -> bool:
    """Yes or no, in words or by the first letter."""

    def known(text: str) -> str:
        if text.strip().lower() not in YES_OR_NO:
            raise InputError("answer", 'answer "yes" or "no"')
        return text.strip().lower()

    return YES_OR_NO[ask(f"{question} (yes or no)", known)]


def ask_new_password() -> str:
    """A password that may be one, typed twice alike and never shown."""
    while True:
        try:
            password = passwords.checked(_unseen(f"Password, at least {passwords.MIN_LENGTH} characters"))
        except InputError as error:
            _say(error.message)
            continue
        if _unseen("The same once more") == password:
            return password
        _say("the two are not the same. Type both again")


def _unseen(question: str) -> str:
    try:
        return getpass.getpass(f"{question}: ", stream=sys.stderr)
    except EOFError:
        raise InputError("terminal", "it was closed before a password was typed. Nothing was kept") from None


def _say(message: str) -> None:
    print(f"  {message[:1].upper()}{message[1:]}.", file=sys.stderr, flush=True)
