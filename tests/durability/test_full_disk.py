"""A disk that is really full, at several moments: told clearly, nothing half written, reading goes on."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from app.core.errors import InputError
from app.work.backups import back_up
from app.work.restoring import restore
from tests.durability.serving import RADIOGRAPHS, log_in, serving, upload
from tests.durability.small_disk import fill, small_disk
from tests.durability.whole import parts_and_orphans, recorded
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.client import Page, check

ROUNDS = 6
SENT = 3


def test_a_full_disk_is_told_nothing_is_half_written_and_reading_goes_on(
    practice: Practice, tmp_path: Path
) -> None:
    """In a loop with other room left each time: no byte, too little for the files, or for the rows."""
    series = a_series(practice)
    loaded(practice, series)
    who = log_in(practice)
    sent = RADIOGRAPHS[:SENT]
    size = sum(each.stat().st_size for each in sent)
    left = random.Random(20260327)
    with small_disk(tmp_path / "disk", 24) as disk:
        folder = disk / "data"
        shutil.copytree(practice.store.folder, folder)
        with serving(folder) as server, who.client(server) as client:
            # Whoever looks at them already goes on; a view that cannot be put into the trail is not given.
            client.get(f"/series/{series.id}")
            client.get(f"/images/{(seen := _an_image(folder))}")
            for turn in range(ROUNDS):
                filler = fill(disk, 0 if turn == 0 else left.randint(0, size + 200_000))
                refused = upload(client, who, series.id, sent)
                if refused.status_code == 200:
                    # There was room after all.
                    assert [each["outcome"] for each in refused.json()["results"]] in (
                        ["taken"] * SENT,
                        ["already"] * SENT,
                    )
                else:
                    assert refused.status_code == 507
                    assert refused.json()["error"]["message"].startswith("The disk of the data folder is full")
                reading = client.get(f"/series/{series.id}")
                image = client.get(f"/images/{seen}")
                filler.unlink()
                assert (reading.status_code, image.status_code) == (200, 200)
                if turn == 0:
                    assert refused.status_code == 507
                    check(Page(reading))
            again = upload(client, who, series.id, sent)
        rows = recorded(practice, folder)[series.id]

        assert {each["outcome"] for each in again.json()["results"]} <= {"taken", "already"}
        assert len(rows) == 1 + SENT
        assert parts_and_orphans(folder, [sha256 for _, sha256 in rows]) == (0, 0)


def _an_image(folder: Path) -> str:
    return next(each.name for each in (folder / "images").glob("??/*"))


def test_a_full_disk_is_told_on_a_page_with_words(practice: Practice, tmp_path: Path) -> None:
    who = log_in(practice)
    with small_disk(tmp_path / "disk", 24) as disk:
        folder = disk / "data"
        shutil.copytree(practice.store.folder, folder)
        with serving(folder) as server, who.client(server) as client:
            client.get("/patients")
            # The log of the database keeps room that it had before: a long name does not fit into it.
            fill(disk)
            answers = [
                client.post(
                    "/patients/new",
                    data={
                        "csrf_token": who.csrf_token,
                        "chart_number": f"9{number}",
                        "name": "Bo " + "x" * 60,
                        "birth_date": "1990-01-01",
                    },
                    follow_redirects=False,
                )
                for number in range(40)
            ]
            listed = client.get("/patients")
        full = [each for each in answers if each.status_code == 507]

        assert full
        assert {each.status_code for each in answers} <= {303, 507}
        check(Page(full[0]))
        assert "The disk of the data folder is full" in full[0].text
        assert listed.status_code == 200


def test_a_backup_onto_a_full_disk_counts_for_nothing(practice: Practice, tmp_path: Path) -> None:
    loaded(practice, a_series(practice))
    with small_disk(tmp_path / "disk", 2) as disk:
        backup = disk / "backup"
        report = None
        for room in (0, 100_000, 800_000):
            filler = fill(disk, room)
            with pytest.raises(InputError, match="No space left on device"):
                report = back_up(practice.store.folder, backup)
            filler.unlink()
        whole = list((backup / "generations").glob("0*")) if backup.exists() else []

        assert report is None
        assert whole == []


def test_a_restore_onto_a_small_disk_is_refused_before_anything_is_copied(
    practice: Practice, tmp_path: Path
) -> None:
    loaded(practice, a_series(practice))
    back_up(practice.store.folder, tmp_path / "backup")
    with small_disk(tmp_path / "disk", 2) as disk:
        with pytest.raises(InputError, match="MB are needed"):
            restore(tmp_path / "backup", disk / "data")

        assert not (disk / "data").exists()
