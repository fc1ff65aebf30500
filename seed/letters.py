"""The demo's texts of letters, and a file of patients that waits to be checked."""

from __future__ import annotations

from datetime import date

from app.storage.database import Store
from app.work.actor import Actor
from app.work.imports import choose_columns, stage_file
from app.work.imports_columns import guessed_columns
from app.work.letters import add_example_texts
from seed.acting import acting

HEADER = "Chart no;Family name;Given name;Born;Phone;Last bitewings"
LINES = (
    "T9001;Quillfeather;Bram;19.04.1971;01632 960771;14.02.2024",
    "T9002;Oakhanger;Sunniva;02.11.1988;;30.09.2023",
    "T9003;Rookwood;Ilario;31.02.1990;01632 960773;",
    "T9004;Pennywell;;23.08.2012;01632 960774;",
)
"""Taken over from the list of a dentist who retired; one line has a day that is not in the calendar."""


def add_letters_and_import(store: Store, desk: Actor, today: date) -> None:
    """Texts to choose from, and a file that waits, with a bad line, so that no page of these is empty."""
    data = "\r\n".join((HEADER, *LINES)).encode("cp1252")
    with acting(store, desk) as scope:
        add_example_texts(scope, desk)
        row = stage_file(scope, desk, data=data, file_name="taken-over-patients.csv")
        columns = dict(guessed_columns(tuple(HEADER.split(";"))))
        choose_columns(scope, desk, row.id, columns=columns, today=today)
