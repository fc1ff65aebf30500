"""The page on which an administrator sees whether there is a backup."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from app.storage.backup_note import NOTE, BackupNote, write_note
from app.storage.columns import now
from app.work.backups import back_up
from tests.people import Practice
from tests.web.client import PageClient

ClientOf = Callable[[str], PageClient]


def noted(practice: Practice, *, days: int, missing: int = 0) -> None:
    moment = (now() - timedelta(days=days, hours=1)).isoformat()
    name = "000012-20260101T000000Z"
    write_note(
        practice.store.folder,
        BackupNote(at=moment, folder="/mnt/b", generation=name, files=9, bytes=5, sealed=False, missing=missing),
    )


def test_without_a_backup_the_page_warns(client_of: ClientOf) -> None:
    page = client_of("ruan").get("/backups")

    assert page.status == 200
    assert "No whole backup of this data folder is known" in page.text


def test_a_fresh_backup_is_shown_with_what_it_holds(
    client_of: ClientOf, practice: Practice, tmp_path: Path
) -> None:
    report = back_up(practice.store.folder, tmp_path / "backup")

    page = client_of("ruan").get("/backups")

    assert "The last whole backup was made less than a day ago" in page.text
    assert report.generation in page.text
    assert not page.all(".notice-warning")


@pytest.mark.parametrize(("days", "warns"), [(2, False), (3, True), (400, True)])
def test_the_page_warns_from_the_third_day_on(
    client_of: ClientOf, practice: Practice, days: int, warns: bool
) -> None:
    noted(practice, days=days)

    page = client_of("ruan").get("/backups")

    assert bool(page.all(".notice-warning")) is warns


def test_a_backup_from_the_future_of_a_clock_set_back_is_one_of_today(
    client_of: ClientOf, practice: Practice
) -> None:
    noted(practice, days=-2)

    assert "less than a day ago" in client_of("ruan").get("/backups").text


def test_files_that_could_not_be_copied_are_told(client_of: ClientOf, practice: Practice) -> None:
    noted(practice, days=0, missing=2)

    assert "2 files that the records name could not be copied" in client_of("ruan").get("/backups").text


@pytest.mark.parametrize("text", ["", "{", "[]", json.dumps({"format": "fullcount-last-backup/1", "at": "no"})])
def test_a_note_that_cannot_be_read_is_no_backup(client_of: ClientOf, practice: Practice, text: str) -> None:
    (practice.store.folder / NOTE).write_text(text)

    assert "No whole backup" in client_of("ruan").get("/backups").text


def test_nothing_is_restored_from_the_page(client_of: ClientOf) -> None:
    page = client_of("ruan").get("/backups")

    assert page.all("main form") == []
    assert client_of("ruan").post("/backups").status == 405
