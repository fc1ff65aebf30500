"""A data folder of which only a part was copied: what is missing is named, and nothing is set up over the rest."""

from __future__ import annotations

import os
import shutil
import time
from pathlib import Path

import pytest

from app.work.backups import back_up
from tests.durability.serving import RADIOGRAPHS, log_in, refused, serving, upload
from tests.durability.whole import recorded
from tests.making import a_series
from tests.people import Practice
from tests.web.client import Page, check
from tests.work.backup_people import a_full_practice


@pytest.fixture
def full(practice: Practice) -> Path:
    """The data folder of a practice with images and a signed report, closed."""
    a_full_practice(practice)
    practice.store.close()
    return practice.store.folder


def test_a_database_without_images_reads_on_names_what_is_missing_and_takes_new_images(
    practice: Practice, tmp_path: Path
) -> None:
    open_series, _ = a_full_practice(practice)
    who = log_in(practice)
    images = [each.name for each in (practice.store.folder / "images").glob("??/*")]
    shutil.rmtree(practice.store.folder / "images")
    with serving(practice.store.folder) as server, who.client(server) as client:
        page = client.get(f"/series/{open_series}")
        image = client.get(f"/images/{images[0]}")
        new = upload(client, who, open_series, RADIOGRAPHS[:1])
    report = back_up(practice.store.folder, tmp_path / "backup")

    assert page.status_code == 200
    assert image.status_code == 404
    check(Page(image))
    assert "is missing from the data folder. Restore it from a backup" in image.text
    assert [each["outcome"] for each in new.json()["results"]] == ["taken"]
    assert sorted(report.missing) == sorted(f"images/{each}" for each in images)


@pytest.mark.parametrize("left", ["images", "reports"])
def test_images_without_their_database_are_not_set_up_anew(full: Path, left: str) -> None:
    for each in full.iterdir():
        if each.name != left:
            shutil.rmtree(each) if each.is_dir() else each.unlink()

    status, words = refused(full)

    assert status == 2
    assert words.startswith(f"{full}: holds {left} but no database")
    assert words.count("\n") == 1
    assert [each.name for each in full.iterdir()] == [left]


@pytest.mark.parametrize("share", [0.0, 0.01, 0.5, 0.999])
def test_a_truncated_database_is_named_and_left_as_it_is(full: Path, share: float) -> None:
    database = full / "fullcount.sqlite3"
    data = database.read_bytes()
    database.write_bytes(data[: int(len(data) * share)])

    status, words = refused(full)

    assert status == 2, words
    assert words.startswith(f"{full}: ")
    assert "The database is damaged" in words or "holds images but no database" in words
    assert words.count("\n") == 1
    assert database.stat().st_size == int(len(data) * share)


def test_a_folder_copied_without_the_databases_log_opens_at_an_earlier_moment_and_the_backup_tells(
    practice: Practice, tmp_path: Path
) -> None:
    """What the log held is not there; the images of it are, named by nothing, and are reported."""
    series_id = a_series(practice).id
    who = log_in(practice)
    folder, copy = practice.store.folder, tmp_path / "copy"
    with serving(folder) as server, who.client(server) as client:
        assert upload(client, who, series_id, RADIOGRAPHS[:2]).status_code == 200
        server.kill()
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("*-wal", "*-shm"))
    two_days_ago = time.time() - 2 * 86400
    for each in (copy / "images").rglob("*"):
        os.utime(each, (two_days_ago, two_days_ago))
    whole = shutil.copytree(folder, tmp_path / "whole")

    rows = recorded(practice, copy)
    report = back_up(copy, tmp_path / "backup")

    assert rows.get(series_id, []) == []
    assert len(report.unnamed) == 2
    assert len(recorded(practice, whole)[series_id]) == 2


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_log_that_was_copied_by_half_gives_a_whole_earlier_moment(
    practice: Practice, tmp_path: Path, share: float
) -> None:
    series_id = a_series(practice).id
    who = log_in(practice)
    with serving(practice.store.folder) as server, who.client(server) as client:
        for number in range(3):
            assert upload(client, who, series_id, RADIOGRAPHS[number : number + 1]).is_success
        server.kill()
    copy = shutil.copytree(practice.store.folder, tmp_path / "copy", ignore=shutil.ignore_patterns("*-shm"))
    log = copy / "fullcount.sqlite3-wal"
    data = log.read_bytes()
    log.write_bytes(data[: int(len(data) * share)])

    before = len(recorded(practice, copy).get(series_id, []))

    assert data
    assert before <= 3
    assert len(recorded(practice)[series_id]) == 3
