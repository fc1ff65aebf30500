"""A backup holds one moment whole while others write; what is restored is equal, row by row and byte by byte."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from threading import Event, Thread

import pytest

from app.core.errors import InputError
from app.storage.backup_folder import DESCRIPTION
from app.storage.backup_note import read_note
from app.storage.series import ExposureRow, SeriesRow
from app.work.backup_upkeep import check_backup
from app.work.backups import back_up, backup_state
from app.work.restoring import restore
from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.work.backup_people import a_full_practice, audits, every_file, every_row

ROOT = Path(__file__).resolve().parents[2]


def test_what_is_restored_equals_the_data_folder_in_every_row_byte_and_audit(
    practice: Practice, tmp_path: Path
) -> None:
    series = a_full_practice(practice)
    data = practice.store.folder
    report = back_up(data, tmp_path / "backup")

    restored = restore(tmp_path / "backup", tmp_path / "again")

    assert not report.has_findings
    assert not restored.has_findings
    assert every_row(tmp_path / "again") == every_row(data)
    assert every_file(tmp_path / "again") == every_file(data)
    assert len(every_file(data)) == 5
    assert [(tmp_path / each).stat().st_mode & 0o77 for each in ("backup", "again")] == [0, 0]
    assert audits(practice, series, tmp_path / "again") == audits(practice, series)


def test_a_backup_made_while_others_write_holds_one_moment_whole(practice: Practice, tmp_path: Path) -> None:
    """Each exposure is one transaction: a row more and the version one higher, with its file."""
    series = a_full_practice(practice)
    data = practice.store.folder
    before = every_row(data)
    busy = a_series(practice, patient_id=a_patient(practice, "H300").id)
    done, started = Event(), Event()

    def write_on() -> None:
        for number in range(1000, 2000):
            loaded(practice, busy, number)
            started.set()
            if done.is_set():
                return

    writer = Thread(target=write_on)
    writer.start()
    started.wait()
    counts = []
    for turn in range(3):
        back_up(data, tmp_path / "backup")
        again = tmp_path / f"again-{turn}"
        restore(tmp_path / "backup", again)
        rows = every_row(again)
        with closing(sqlite3.connect(again / "fullcount.sqlite3")) as connection:
            (version,) = connection.execute("SELECT version FROM series WHERE id = ?", [busy.id]).fetchone()
        counts.append(sum(busy.id in row for row in rows["exposure"]))
        assert version == 1 + counts[-1]
        assert len(every_file(again)) >= len(rows["image"]) + len(rows["signed_report"])
        assert all(set(rows[table]) >= set(before[table]) for table in ("exposure", "image", "sign_off", "staff"))
        assert audits(practice, series, again) == audits(practice, series)
    done.set()
    writer.join()

    assert 1 <= counts[0] <= counts[1] <= counts[2]
    assert check_backup(tmp_path / "backup").problems == []


def test_a_second_run_copies_only_what_is_new(practice: Practice, tmp_path: Path) -> None:
    open_series, _ = a_full_practice(practice)
    first = back_up(practice.store.folder, tmp_path / "backup")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        series = scope.get(SeriesRow, open_series, "series")
    loaded(practice, series, 9)

    second = back_up(practice.store.folder, tmp_path / "backup")

    # Four images, one report and the database; then one image and the database.
    assert (first.files, first.new_files) == (6, 6)
    assert (second.files, second.new_files) == (7, 2)


def test_a_restored_folder_passes_the_check_of_trail_and_files(practice: Practice, tmp_path: Path) -> None:
    """Before anybody has opened it: the check only reads."""
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "again")
    environment = {**os.environ, "FULLCOUNT_DATA_FOLDER": str(tmp_path / "again")}

    done = subprocess.run(
        [sys.executable, "-m", "app", "verify"], cwd=ROOT, env=environment, capture_output=True, text=True
    )

    assert done.returncode == 0, done.stderr


def test_each_generation_is_restored_as_it_was(practice: Practice, tmp_path: Path) -> None:
    a_full_practice(practice)
    rows = every_row(practice.store.folder)
    first = back_up(practice.store.folder, tmp_path / "backup").generation
    a_patient(practice, "H400")
    back_up(practice.store.folder, tmp_path / "backup")

    restore(tmp_path / "backup", tmp_path / "first", generation=first)
    restore(tmp_path / "backup", tmp_path / "second")

    assert every_row(tmp_path / "first") == rows
    assert every_row(tmp_path / "second") == every_row(practice.store.folder)


def test_dropping_old_generations_keeps_every_file_that_a_kept_one_names(
    practice: Practice, tmp_path: Path
) -> None:
    a_full_practice(practice)
    for chart_number in ("K1", "K2", "K3"):
        a_patient(practice, chart_number)
        back_up(practice.store.folder, tmp_path / "backup")
    stray = tmp_path / "backup" / "images" / "ab" / ("ab" * 32)
    stray.parent.mkdir(exist_ok=True)
    stray.write_bytes(b"of no generation")

    report = back_up(practice.store.folder, tmp_path / "backup", keep=2)

    assert [each[:6] for each in report.dropped.generations] == ["000001", "000002"]
    assert report.dropped.files == 1
    assert not stray.exists()
    assert check_backup(tmp_path / "backup").problems == []
    restore(tmp_path / "backup", tmp_path / "again", generation="3")


def test_nothing_is_dropped_while_a_generation_that_stays_cannot_be_read(
    practice: Practice, tmp_path: Path
) -> None:
    a_full_practice(practice)
    for _ in range(3):
        name = back_up(practice.store.folder, tmp_path / "backup").generation
    (tmp_path / "backup" / "generations" / name / "manifest.json").write_text("{}")

    report = back_up(practice.store.folder, tmp_path / "backup", keep=2)

    assert report.has_findings
    assert report.dropped.generations == []
    assert len(list((tmp_path / "backup" / "generations").iterdir())) == 4


def test_a_clock_set_back_between_two_backups_changes_no_order(
    practice: Practice, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.work import backups

    back_up(practice.store.folder, tmp_path / "backup")
    a_patient(practice, "later")
    real = backups.now()
    monkeypatch.setattr(backups, "now", lambda: real.replace(year=2001))
    newest = back_up(practice.store.folder, tmp_path / "backup", keep=1)

    restored = restore(tmp_path / "backup", tmp_path / "again")

    assert restored.generation == newest.generation == "000002-20011125" + newest.generation[15:]
    assert every_row(tmp_path / "again") == every_row(practice.store.folder)


@pytest.mark.parametrize("what", ["image", "database", "manifest", "gone"])
def test_nothing_is_put_in_place_from_a_damaged_generation(practice: Practice, tmp_path: Path, what: str) -> None:
    a_full_practice(practice)
    name = back_up(practice.store.folder, tmp_path / "backup").generation
    inside = tmp_path / "backup" / "generations" / name
    image = next(each for each in (tmp_path / "backup" / "images").rglob("*") if each.is_file())
    file = {"database": inside / "fullcount.sqlite3", "manifest": inside / "manifest.json"}.get(what, image)
    if what == "gone":
        file.unlink()
    else:
        data = bytearray(file.read_bytes())
        data[len(data) // 2] ^= 1
        file.write_bytes(data)
    target = tmp_path / "again"

    with pytest.raises(InputError, match=r"damaged|missing"):
        restore(tmp_path / "backup", target)

    assert not target.exists()
    assert check_backup(tmp_path / "backup").problems != []


def test_data_are_never_restored_over_data(practice: Practice, tmp_path: Path) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup")
    rows = every_row(practice.store.folder)

    with pytest.raises(InputError, match="is not empty"):
        restore(tmp_path / "backup", practice.store.folder)

    assert every_row(practice.store.folder) == rows


def test_what_a_broken_off_backup_left_counts_for_nothing_and_is_told(practice: Practice, tmp_path: Path) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup")
    half = tmp_path / "backup" / "generations" / ".000002-20260101T000000Z.part"
    half.mkdir()
    (half / "fullcount.sqlite3").write_bytes(b"half")

    restored = restore(tmp_path / "backup", tmp_path / "again")
    report = back_up(practice.store.folder, tmp_path / "backup")

    assert restored.generation.startswith("000001-")
    assert report.cleared == ["generations/.000002-20260101T000000Z.part"]
    assert not half.exists()


def test_an_image_that_the_data_folder_has_lost_is_told_and_kept_from_an_earlier_backup(
    practice: Practice, tmp_path: Path
) -> None:
    a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup")
    files = every_file(practice.store.folder)
    shutil.rmtree(practice.store.folder / "images")

    report = back_up(practice.store.folder, tmp_path / "backup")
    fresh = back_up(practice.store.folder, tmp_path / "fresh")

    assert report.has_findings
    assert (len(report.only_in_backup), report.missing) == (4, [])
    assert len(fresh.missing) == 4
    restore(tmp_path / "backup", tmp_path / "again")
    assert every_file(tmp_path / "again") == files
    assert restore(tmp_path / "fresh", tmp_path / "fresh-again").missing == fresh.missing


def test_a_damaged_image_is_never_copied_under_its_name(practice: Practice, tmp_path: Path) -> None:
    series = a_series(practice)
    loaded(practice, series)
    (name,) = practice.store.images.names()
    practice.store.images.path(name).write_bytes(b"no longer what it was")

    report = back_up(practice.store.folder, tmp_path / "backup")

    assert report.damaged == [f"images/{name}"]
    assert report.has_findings
    assert not list((tmp_path / "backup" / "images").rglob(name))


def test_what_a_crash_left_in_the_data_folder_is_reported_after_a_day_and_left_there(
    practice: Practice, tmp_path: Path
) -> None:
    a_full_practice(practice)
    image = practice.store.images.keep(b"kept, and never recorded")
    old = practice.store.images.path(image)
    part = old.with_name(f".{image}.abcd.part")
    fresh = old.with_name(f".{image}.beef.part")
    part.write_bytes(b"half")
    fresh.write_bytes(b"half, perhaps under way")
    two_days_ago = time.time() - 2 * 86400
    for each in (old, part):
        os.utime(each, (two_days_ago, two_days_ago))

    report = back_up(practice.store.folder, tmp_path / "backup")

    assert report.left_parts == [part.relative_to(practice.store.folder).as_posix()]
    assert report.unnamed == [f"images/{image}"]
    assert part.exists()
    assert (tmp_path / "backup" / "images" / image[:2] / image).exists()


@pytest.mark.parametrize("inside", [True, False])
def test_a_backup_neither_inside_nor_around_the_data_folder(practice: Practice, inside: bool) -> None:
    folder = practice.store.folder / "backup" if inside else practice.store.folder.parent

    with pytest.raises(InputError, match="lies in the data folder"):
        back_up(practice.store.folder, folder)


def test_a_folder_with_other_things_is_not_taken_for_a_backup(practice: Practice, tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "letter.txt").write_text("Dear …")

    with pytest.raises(InputError, match=r'holds "letter\.txt" and is no backup folder'):
        back_up(practice.store.folder, tmp_path / "letters")

    assert sorted(each.name for each in (tmp_path / "letters").iterdir()) == ["letter.txt"]


def test_two_backups_into_one_folder_do_not_meet(practice: Practice, tmp_path: Path) -> None:
    from app.storage.backup_files import held

    back_up(practice.store.folder, tmp_path / "backup")

    with (
        held(tmp_path / "backup" / ".lock", "busy"),
        pytest.raises(InputError, match="another backup is under way"),
    ):
        back_up(practice.store.folder, tmp_path / "backup")


def test_the_manifest_tells_what_the_generation_is(practice: Practice, tmp_path: Path) -> None:
    a_full_practice(practice)
    with closing(sqlite3.connect(practice.store.folder / "fullcount.sqlite3")) as connection, connection:
        connection.execute("DROP TABLE IF EXISTS trail_entry")
        connection.execute("CREATE TABLE trail_entry (id TEXT, practice_id TEXT, hash TEXT, what TEXT)")
        connection.execute(
            "INSERT INTO trail_entry VALUES ('1', 'p', 'aa', 'saw Ada'), ('2', 'p', 'bb', 'saw Bo')"
        )

    name = back_up(practice.store.folder, tmp_path / "backup").generation
    manifest = json.loads((tmp_path / "backup" / "generations" / name / "manifest.json").read_text())

    assert manifest["format"] == "fullcount-backup/1"
    assert manifest["database_revision"] == manifest["program_revision"] != ""
    assert manifest["rows"]["exposure"] == 4
    assert sorted(each["kind"] for each in manifest["files"]) == ["images"] * 4 + ["reports"]
    assert manifest["trail"] == [{"id": "2", "practice_id": "p", "hash": "bb"}]


def test_the_administrator_is_told_when_the_last_backup_is_too_old(practice: Practice, tmp_path: Path) -> None:
    never = backup_state(practice.store, practice.administrator, warning_days=3)
    back_up(practice.store.folder, tmp_path / "backup")
    fresh = backup_state(practice.store, practice.administrator, warning_days=3)
    today = backup_state(practice.store, practice.administrator, warning_days=0)

    assert (never.overdue, never.last) == (True, None)
    assert (fresh.overdue, fresh.days) == (False, 0)
    assert today.overdue


def test_a_backup_folder_whose_description_is_damaged_says_so(practice: Practice, tmp_path: Path) -> None:
    back_up(practice.store.folder, tmp_path / "backup")
    (tmp_path / "backup" / DESCRIPTION).write_text("{")

    with pytest.raises(InputError, match="is damaged"):
        back_up(practice.store.folder, tmp_path / "backup")


def test_a_restored_practice_works_on(practice: Practice, tmp_path: Path) -> None:
    """Its images can be read, and the next image is recorded."""
    from app.storage.database import Store

    open_series, _ = a_full_practice(practice)
    back_up(practice.store.folder, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "again")
    store = Store(tmp_path / "again")
    store.migrate()
    again = Practice(
        store,
        *(getattr(practice, each) for each in ("dentist", "assistant", "front_desk")),
        practice.administrator,
        practice.stranger,
    )
    with store.reading(practice.dentist.practice_id) as scope:
        series = scope.get(SeriesRow, open_series, "series")
    exposure: ExposureRow = loaded(again, series, 77)
    store.close()

    assert exposure.position == 4
    assert read_note(tmp_path / "again") is None
