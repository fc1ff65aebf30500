"""The first start on the machine: whoever sits there sets the practice up, before anything is served."""

from __future__ import annotations

import sys

from app.cli.asking import ask, ask_new_password, ask_yes_or_no, on_a_terminal
from app.settings import Settings
from app.storage.database import Store
from app.work.accounts import checked_login, first_start, is_first_start
from app.work.text import checked_line


def first_start_on_this_terminal(settings: Settings) -> None:
    """Ask for practice and administrator where nobody works here yet and somebody can be asked.

    Without a terminal (a service) nothing is asked: the web page then takes the one-time code.
    """
    if not on_a_terminal():
        return
    store = Store(settings.data_folder)
    try:
        store.migrate()
        if is_first_start(store):
            ask_for_first_start(store)
    finally:
        store.close()


def ask_for_first_start(store: Store) -> None:
    """Ask, and set up; nothing is kept before the last answer."""
    print(
        f"Nobody works in {store.folder} yet. Set the practice up; Ctrl+C leaves, and keeps nothing.",
        file=sys.stderr,
    )
    practice_name = ask("Name of the practice", lambda text: checked_line(text, "practice_name"))
    name = ask("Your name, as it stands under what you sign", lambda text: checked_line(text, "name"))
    login = ask("Your log-in name, 2 to 40 small letters, digits, dots or dashes", checked_login)
    dentist = ask_yes_or_no("You administer the program. Are you the dentist too?")
    password = ask_new_password()
    actor = first_start(
        store, practice_name=practice_name, name=name, login=login, password=password, dentist=dentist
    )
    print(f'{practice_name} is set up. Log in as "{login}" ({actor.duties}).', file=sys.stderr, flush=True)
