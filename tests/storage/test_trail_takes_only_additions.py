"""The database itself keeps the trail: entries are added behind the head, and nothing else happens to it."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from app.storage.trail_notes import TrailNotWritten
from tests.people import Practice, a_patient
from tests.storage.trail_rows import entries, unguarded


def refused(practice: Practice, statement: str, why: str) -> None:
    """The statement is refused, and the trail stands as it stood."""
    before = [each.model_dump() for each in entries(practice.store)]
    with pytest.raises(DBAPIError, match=why), practice.store.engine.begin() as connection:
        connection.execute(text(statement))

    assert before
    assert [each.model_dump() for each in entries(practice.store)] == before


def test_nothing_is_changed_or_taken_out(either: Practice) -> None:
    for statement in (
        "UPDATE trail_entry SET who = 'nobody' WHERE number = 1",
        "UPDATE trail_entry SET details = details",
        "DELETE FROM trail_entry",
        "DELETE FROM trail_entry WHERE number = (SELECT max(number) FROM trail_entry)",
        "DELETE FROM trail_head",
        "UPDATE trail_head SET number = number - 1",
        "UPDATE trail_head SET number = number + 1",
        "UPDATE trail_head SET hash = 'f'",
    ):
        refused(either, statement, "the trail is only ever added to")


def test_an_entry_that_does_not_continue_the_head_is_refused(either: Practice) -> None:
    for number, previous in (("number + 2", "hash"), ("number + 1", "'0'"), ("number", "hash"), ("1", "hash")):
        refused(
            either,
            f"INSERT INTO trail_entry SELECT {number}, '', at, '', '', '', '', 'start', '', '', '', '', "
            f"{previous}, 'h' FROM trail_head",
            "continues the head",
        )


def test_the_table_is_neither_replaced_nor_emptied_at_once(either: Practice) -> None:
    """SQLite's REPLACE and PostgreSQL's TRUNCATE go round the usual triggers."""
    if either.store.engine.dialect.name == "sqlite":
        refused(either, "INSERT OR REPLACE INTO trail_entry SELECT * FROM trail_entry", "trail")
    else:
        for table in ("trail_entry", "trail_head"):
            refused(either, f"TRUNCATE {table}", "the trail is only ever added to")


def test_what_could_not_be_noted_was_not_done(practice: Practice) -> None:
    """With its head gone, the trail takes nothing, and so nothing is changed."""
    unguarded(practice.store, "DELETE FROM trail_head")
    with pytest.raises(TrailNotWritten, match="the head of the trail is gone"):
        a_patient(practice)

    with practice.store.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM patient")).scalar() == 0
