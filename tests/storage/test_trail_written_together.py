"""Entries that many ask for at once share transactions, and each is on disk before its asker goes on."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Event
from typing import Any

import pytest
from sqlalchemy import event

from app.storage.trail_doing import Doing, doing
from app.storage.trail_notes import Note, TrailNotWritten
from app.work.verify import verify
from tests.people import Practice
from tests.storage.trail_rows import entries


def commits(practice: Practice) -> list[int]:
    """Grows by one with each transaction that is committed."""
    counted: list[int] = []
    event.listen(practice.store.engine, "commit", lambda _connection: counted.append(1))
    event.listen(practice.store._writers, "commit", lambda _connection: counted.append(1))
    return counted


def test_eighteen_at_once_are_not_eighteen_transactions(practice: Practice) -> None:
    before, counted, together = len(entries(practice.store)), commits(practice), Event()
    started: list[int] = []

    def see(number: int) -> bool:
        started.append(number)
        together.wait()
        practice.store.trail.note(Note(kind="view", what=f"image {number}"))
        # Committed: another connection sees it.
        return any(each.what == f"image {number}" for each in entries(practice.store))

    with ThreadPoolExecutor(18) as pool:
        asked = [pool.submit(see, number) for number in range(18)]
        # While the first writer is kept waiting, the others come.
        with practice.store.writing(practice.dentist.practice_id) as scope:
            scope.session.connection()
            together.set()
            while len(practice.store.trail._waiting) < 16:
                together.wait(0.01)
        seen = [each.result() for each in asked]

    assert seen == [True] * 18
    assert len(entries(practice.store)) == before + 18
    assert len(counted) <= 6
    assert verify(practice.store.engine, practice.store.folder, settle_s=0).is_clean


def test_each_entry_keeps_its_own_person_whoever_writes_it(practice: Practice) -> None:
    def see(number: int) -> None:
        with doing(Doing(who=f"p{number}", from_where=f"192.0.2.{number}", request_id=f"r{number}")):
            practice.store.trail.note(Note(kind="view", what=f"image {number}"))

    with ThreadPoolExecutor(12) as pool:
        list(pool.map(see, range(12)))
    made = entries(practice.store, "view")

    assert sorted((each.what, each.who, each.from_where, each.request_id) for each in made) == sorted(
        (f"image {n}", f"p{n}", f"192.0.2.{n}", f"r{n}") for n in range(12)
    )


def test_the_same_seen_again_soon_is_one_entry_and_later_another(practice: Practice) -> None:
    said = Note(kind="view", what="image", details={"sha256": "ab"}, doing=Doing(who="p1"))
    trail = practice.store.trail
    written = [trail.note_once(said, within_s=600), trail.note_once(said, within_s=600)]
    other = trail.note_once(replace(said, doing=Doing(who="p2")), within_s=600)
    later = trail.note_once(said, within_s=0)

    assert (written, other, later) == ([True, False], True, True)
    assert len(entries(practice.store, "view")) == 3


def test_what_could_not_be_written_is_told_to_everybody_who_waits(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    trail = practice.store.trail

    def full(*_arguments: Any) -> Any:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(trail, "_writing", full)
        with pytest.raises(TrailNotWritten, match="so it is not shown"):
            trail.note_once(Note(kind="view", what="image"), within_s=600)
    again = trail.note_once(Note(kind="view", what="image"), within_s=600)

    assert again
    assert len(entries(practice.store, "view")) == 1
