"""``verify`` as a command: exit status and text, also while a server is writing."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from threading import Event, Thread

import pytest

from app.storage.database import Store
from app.storage.migrations.run import migrate
from app.storage.trail_notes import Note
from tests.cli.test_serve import ROOT, answered, served
from tests.making import a_series, loaded
from tests.people import Practice
from tests.storage.trail_rows import entries, unguarded


def verified(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """The command on a data folder."""
    return subprocess.run(
        [sys.executable, "-m", "app", "verify", *arguments],
        cwd=ROOT,
        env={**os.environ, "FULLCOUNT_DATA_FOLDER": str(folder)},
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_a_whole_folder_ends_with_0_and_says_what_was_proved(practice: Practice) -> None:
    loaded(practice, a_series(practice), slot="UR-molar")
    head = entries(practice.store)[-1]
    result = verified(practice.store.folder, "--expect", f"{head.number}:{head.hash[:16]}")
    told = json.loads(result.stdout)

    assert (result.returncode, result.stderr) == (0, "")
    assert (told["format"], told["clean"], told["findings"]) == ("fullcount-verify/1", True, [])
    assert told["trail"]["head"] == {"number": head.number, "hash": head.hash}
    assert told["files"]["images"] == {"recorded": 1}


def test_findings_end_with_1_and_name_the_first_broken_entry(practice: Practice) -> None:
    practice.store.trail.note(Note(kind="upkeep", what="a"))
    unguarded(practice.store, "UPDATE trail_entry SET what = 'b' WHERE number = 3")
    practice.store.images.keep(b"nobody's")
    result = verified(practice.store.folder)
    told = json.loads(result.stdout)

    assert (result.returncode, result.stderr) == (1, "")
    assert told["trail"]["first_broken"] == 3
    assert [each["code"] for each in told["findings"]] == ["changed", "orphan"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("/nowhere/at/all",), "there is no database"),
        (("--expect", "12"), '"12" is no noted head'),
        (("--expect",), "expected one argument"),
    ],
)
def test_what_cannot_be_done_ends_with_2_and_one_sentence(
    tmp_path: Path, arguments: tuple[str, ...], told: str
) -> None:
    result = verified(tmp_path, *arguments)

    assert (result.returncode, result.stdout) == (2, "")
    assert told in result.stderr
    assert "Traceback" not in result.stderr


def test_a_database_of_an_older_version_is_told_what_to_do(tmp_path: Path) -> None:
    store = Store(tmp_path)
    migrate(store.engine, "0009")
    store.close()
    result = verified(tmp_path)

    assert result.returncode == 2
    assert "this database has no trail yet. Start the server once" in result.stderr


def test_it_proves_a_folder_on_which_a_server_runs_and_somebody_writes(practice: Practice) -> None:
    over = Event()
    written: list[int] = []

    def write() -> None:
        while not over.wait(0.05):
            practice.store.trail.note(Note(kind="upkeep", what="meanwhile"))
            written.append(1)

    with served(practice.store.folder) as (address, _):
        answered(f"{address}/health")
        thread = Thread(target=write)
        thread.start()
        try:
            result = verified(practice.store.folder)
        finally:
            over.set()
            thread.join()

    assert len(written) > 2
    assert (result.returncode, result.stderr) == (0, "")
