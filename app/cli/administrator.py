"""``administrator [LOGIN]``: at the machine, an administrator gets a new password, or a new one is made."""

from __future__ import annotations

import argparse
import sys

from app.cli.asking import ask, ask_new_password, on_a_terminal
from app.cli.files import read_bytes
from app.cli.first_start import ask_for_first_start
from app.cli.settings_in_force import settings_in_force
from app.core.errors import InputError
from app.storage.database import Store
from app.work.accounts import checked_login, is_first_start
from app.work.machine import administrators_here, is_known, set_administrator
from app.work.text import checked_line


def run(arguments: list[str]) -> int:
    """0 once the password is set."""
    parser = argparse.ArgumentParser(
        prog="python -m app administrator",
        description="Sets a new password for an administrator who forgot theirs, and ends their log-ins; or makes "
        "an administrator, where nobody has the log-in name. Asks on the terminal for what is not given.",
    )
    parser.add_argument("login", metavar="LOGIN", nargs="?", help="log-in name of the administrator")
    parser.add_argument("--name", default="", help="name of a new administrator")
    parser.add_argument(
        "--password-file", metavar="FILE", help="file whose first line is the password; - for standard input"
    )
    options = parser.parse_args(arguments)
    store = Store(settings_in_force().settings.data_folder)
    try:
        store.migrate()
        return _set(store, options.login, options.name, options.password_file)
    finally:
        store.close()


def _set(store: Store, login: str | None, name: str, password_file: str | None) -> int:
    asked = on_a_terminal() and password_file is None
    if is_first_start(store) and asked:
        ask_for_first_start(store)
        return 0
    if login is None:
        if not asked:
            raise InputError("LOGIN", f"name the administrator's log-in. {_who(store)}")
        print(_who(store), file=sys.stderr)
        login = ask("Log-in name of the administrator, or a new one", checked_login)
    if asked and not name and not is_first_start(store) and not is_known(store, login):
        name = ask(f'Nobody is called "{login}" yet. Name of the new administrator', _checked_name)
    if password_file is None and not asked:
        raise InputError("--password-file", "there is no terminal to ask on. Name a file, or - for standard input")
    password = _first_line(password_file) if password_file is not None else ask_new_password()
    done = set_administrator(store, login=login, password=password, name=name)
    what = (
        "is an administrator now" if done.made else "has the new password, and every log-in with the old has ended"
    )
    print(f'{done.name} ("{done.login}") {what}.', file=sys.stderr)
    return 0


def _who(store: Store) -> str:
    known = administrators_here(store)
    return f"Administering now: {', '.join(known)}." if known else "Nobody administers now."


def _checked_name(text: str) -> str:
    return checked_line(text, "name")


def _first_line(file: str) -> str:
    try:
        text = read_bytes(file).decode()
    except UnicodeDecodeError as error:
        raise InputError(file, "the password in it is not UTF-8. Write it anew") from error
    # Only the end of the line is no part of the password: it may begin or end with a space.
    return text.split("\n", 1)[0].removesuffix("\r")
