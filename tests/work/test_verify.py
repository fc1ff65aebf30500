"""What ``verify`` finds when somebody really meddles with the database or the files."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import time_machine

from app.core.trail import hash_of
from app.storage.database import Store
from app.storage.trail import entry_of
from app.storage.trail_notes import Note
from app.work.verify import CannotVerify, Verified, noted_head, verify, verify_folder
from tests.making import a_series, loaded
from tests.people import Practice
from tests.storage.conftest import cluster, either, empty  # noqa: F401 - fixtures
from tests.storage.trail_rows import entries, unguarded

# ruff: noqa: F811 - every part of the statements stands in this file; fixtures are named as they are used


def written(store: Store, count: int = 12) -> None:
    """Some entries."""
    for number in range(count):
        store.trail.note(Note(kind="upkeep", what=f"deed {number}"))


def checked(practice: Practice, **more: object) -> Verified:
    """The folder as it stands."""
    return verify(practice.store.engine, practice.store.folder, settle_s=0, **more)  # type: ignore[arg-type]


def found(practice: Practice, **more: object) -> list[tuple[str, int]]:
    """Codes of what is wrong with the trail, and at which entry."""
    return [(each.code, each.number) for each in checked(practice, **more).trail.findings]


def files_found(practice: Practice) -> list[tuple[str, str]]:
    """Codes of what is wrong with the files, and where."""
    return [(each.code, each.path) for each in checked(practice).files.findings]


def image_of(practice: Practice) -> Path:
    """The file of an image on record."""
    loaded(practice, a_series(practice), slot="UR-molar")
    (name,) = practice.store.images.names()
    return practice.store.images.path(name)


def rechained(store: Store, start: int) -> None:
    """From an entry on, everything written anew so that it fits together: what a careful forger would do."""
    rows = entries(store)[start - 1 :]
    previous = entries(store)[start - 2].hash
    statements = []
    for row in rows:
        row.previous = previous
        previous = hash_of(entry_of(row))
        statements.append(
            f"UPDATE trail_entry SET what = '{row.what}', previous = '{row.previous}', hash = '{previous}' "
            f"WHERE number = {row.number}"
        )
    unguarded(store, *statements)


def test_a_trail_that_nobody_touched_is_clean(either: Practice) -> None:
    written(either.store)
    loaded(either, a_series(either), slot="UR-molar")
    result = checked(either)

    assert result.is_clean
    assert result.trail.entries == result.trail.head_number == len(entries(either.store))
    assert result.files.recorded == {"images": 1, "reports": 0}


TAMPERED: dict[str, tuple[list[str], list[tuple[str, int]]]] = {
    "a word of an entry changed": (["UPDATE trail_entry SET what = 'deed X' WHERE number = 5"], [("changed", 5)]),
    "who did it changed": (["UPDATE trail_entry SET who = 'abc' WHERE number = 7"], [("changed", 7)]),
    "a space put into its details": (
        ["UPDATE trail_entry SET details = details || ' ' WHERE number = 5"],
        [("changed", 5)],
    ),
    "an entry taken out": (["DELETE FROM trail_entry WHERE number = 6"], [("missing", 6)]),
    "the first entries taken out": (["DELETE FROM trail_entry WHERE number < 4"], [("missing", 1)]),
    "two exchanged": (
        [
            "UPDATE trail_entry SET number = 999 WHERE number = 5",
            "UPDATE trail_entry SET number = 5 WHERE number = 6",
            "UPDATE trail_entry SET number = 6 WHERE number = 999",
        ],
        [("out_of_order", 5), ("out_of_order", 6)],
    ),
    "the gap closed by other numbers": (
        [
            "DELETE FROM trail_entry WHERE number = 13",
            "UPDATE trail_entry SET number = 13 WHERE number = 14",
            "UPDATE trail_head SET number = 13",
        ],
        [("out_of_order", 13)],
    ),
    "the head given another hash": (["UPDATE trail_head SET hash = 'ff'"], [("head_differs", 14)]),
    "the head taken away": (["DELETE FROM trail_head"], [("head_gone", 0)]),
}


def test_the_first_broken_entry_is_named_with_what_is_wrong(tmp_path: Path, practice: Practice) -> None:
    start = len(entries(practice.store))
    written(practice.store, 14 - start)
    practice.store.close()
    for case, (statements, expected) in TAMPERED.items():
        folder = tmp_path / case.replace(" ", "-")
        shutil.copytree(practice.store.folder, folder)
        store = Store(folder)
        unguarded(store, *statements)
        result = verify(store.engine, folder, settle_s=0)
        store.close()

        told = [(each.code, each.number) for each in result.trail.findings]
        assert told[: len(expected)] == expected, case
        assert result.as_json()["trail"]["first_broken"] == (expected[0][1] or None), case


def test_a_byte_changed_in_the_database_file_itself_shows(practice: Practice) -> None:
    written(practice.store)
    practice.store.trail.note(Note(kind="upkeep", what="a deed told plainly"))
    number = len(entries(practice.store))
    practice.store.close()
    file = practice.store.folder / "fullcount.sqlite3"
    with sqlite3.connect(file) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = file.read_bytes()
    assert data.count(b"a deed told plainly") == 1
    file.write_bytes(data.replace(b"a deed told plainly", b"a deed told plainlx"))

    assert found(practice) == [("changed", number)]


def test_a_tail_cut_off_shows_by_the_head(either: Practice) -> None:
    written(either.store)
    last = len(entries(either.store))
    unguarded(either.store, f"DELETE FROM trail_entry WHERE number > {last - 3}")

    assert found(either) == [("head_cut", last - 2)]


def test_a_chain_written_anew_from_the_middle_shows_by_the_head(practice: Practice) -> None:
    written(practice.store)
    last = len(entries(practice.store))
    unguarded(practice.store, "UPDATE trail_entry SET what = 'nothing' WHERE number = 8")
    rechained(practice.store, 8)

    assert found(practice) == [("head_differs", last)]


def test_a_chain_written_anew_with_its_head_shows_against_a_head_noted_elsewhere(practice: Practice) -> None:
    written(practice.store)
    noted = entries(practice.store)[9]
    unguarded(practice.store, "UPDATE trail_entry SET what = 'nothing' WHERE number = 8")
    rechained(practice.store, 8)
    unguarded(practice.store, f"UPDATE trail_head SET hash = '{entries(practice.store)[-1].hash}'")

    assert found(practice) == []
    assert found(practice, expected={10: noted.hash[:16]}) == [("expected_head_differs", 10)]


def test_a_trail_cut_with_its_head_shows_against_a_head_noted_elsewhere(practice: Practice) -> None:
    written(practice.store)
    last = entries(practice.store)[-1]
    before = entries(practice.store)[-2]
    unguarded(
        practice.store,
        f"DELETE FROM trail_entry WHERE number = {last.number}",
        f"UPDATE trail_head SET number = {before.number}, hash = '{before.hash}'",
    )

    assert found(practice) == []
    assert found(practice, expected={last.number: last.hash}) == [("expected_head_differs", last.number)]


def test_a_head_noted_earlier_still_stands(practice: Practice) -> None:
    written(practice.store)
    noted = entries(practice.store)[-1]
    written(practice.store)

    assert found(practice, expected={noted.number: noted.hash[:16]}) == []


def test_a_clock_set_back_is_a_note_and_the_numbers_go_on(practice: Practice) -> None:
    written(practice.store, 1)
    with time_machine.travel(datetime.now(UTC) - timedelta(days=2), tick=True):
        practice.store.trail.note(Note(kind="upkeep", what="in the past"))
        past = entries(practice.store)[-1]
    written(practice.store, 1)
    result = checked(practice)

    assert '"clock_went_back_s":1728' in past.details
    assert past.number == len(entries(practice.store)) - 1
    assert (result.is_clean, result.trail.clock_went_back) == (True, 1)
    assert "set back" in result.as_json()["notes"][0]


def in_image(practice: Practice, change: Callable[[Path], None]) -> list[tuple[str, str]]:
    """What is found after something was done to the file of an image."""
    path = image_of(practice)
    assert files_found(practice) == []
    change(path)
    return [(code, place.replace(path.name, "IT")) for code, place in files_found(practice)]


def one_byte(path: Path) -> None:
    """One bit of one byte changes."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


FILES: dict[str, tuple[Callable[[Path], object], str]] = {
    "one byte changed": (one_byte, "file_damaged"),
    "cut to half, as in a copy that was broken off": (
        lambda path: os.truncate(path, path.stat().st_size // 2),
        "file_damaged",
    ),
    "emptied": (lambda path: os.truncate(path, 0), "file_damaged"),
    "gone": (lambda path: path.unlink(), "file_missing"),
    "a folder in its place": (lambda path: (path.unlink(), path.mkdir()), "file_unreadable"),
}


@pytest.mark.parametrize("case", sorted(FILES))
def test_a_recorded_file_that_is_not_what_was_recorded_is_found(practice: Practice, case: str) -> None:
    change, code = FILES[case]
    result = in_image(practice, change)  # type: ignore[arg-type]

    assert result[0] == (code, f"images/{result[0][1].split('/')[1]}/IT")


def test_files_that_no_row_names_are_told_and_stay(practice: Practice) -> None:
    image_of(practice)
    store = practice.store
    orphan = store.images.keep(b"kept, and never recorded")
    part = store.images.path(orphan).with_name(f".{orphan}.0a1b2c3d.part")
    part.write_bytes(b"half")
    stray = store.images.folder / "notes.txt"
    stray.write_text("mine")
    report = store.reports.keep(b"%PDF-1.7 unsigned")

    assert sorted(files_found(practice)) == sorted(
        [
            ("orphan", f"images/{orphan[:2]}/{orphan}"),
            ("left_over", f"images/{orphan[:2]}/{part.name}"),
            ("out_of_place", "images/notes.txt"),
            ("orphan", f"reports/{report[:2]}/{report}"),
        ]
    )
    assert all(path.exists() for path in (part, stray, store.images.path(orphan), store.reports.path(report)))


def test_a_folder_copied_without_its_images_names_each(practice: Practice, tmp_path: Path) -> None:
    image = image_of(practice)
    practice.store.close()
    copy = tmp_path / "copy"
    copy.mkdir()
    shutil.copy(practice.store.folder / "fullcount.sqlite3", copy)
    result = verify_folder(copy, settle_s=0)

    assert [(each.code, Path(each.path).name) for each in result.files.findings] == [("file_missing", image.name)]


def test_a_database_copied_in_part_cannot_be_checked_and_says_so(practice: Practice, tmp_path: Path) -> None:
    practice.store.close()
    data = (practice.store.folder / "fullcount.sqlite3").read_bytes()
    for name, part in (("half", data[: len(data) // 2]), ("noise", b"\x07" * 8192)):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "fullcount.sqlite3").write_bytes(part)

        with pytest.raises(CannotVerify, match="cannot be read as a database"):
            verify_folder(folder)


def test_checking_writes_nothing(practice: Practice) -> None:
    image_of(practice)
    practice.store.close()
    folder = practice.store.folder

    def state() -> dict[str, bytes]:
        files = [each for each in folder.rglob("*") if each.is_file() and not each.name.endswith(("-shm", "-wal"))]
        return {str(each): each.read_bytes() for each in files}

    before = state()
    verify_folder(folder, settle_s=0)

    assert state() == before


@pytest.mark.parametrize(
    "text", ["", "12", "12:", "x:5f0c2f8e7d6b5a49", "0:5f0c2f8e7d6b5a49", "3:5f0c", "3:zz0c2f8e7d6b5a49"]
)
def test_a_head_noted_wrongly_is_refused(text: str) -> None:
    with pytest.raises(Exception, match="is no noted head"):
        noted_head(text)
