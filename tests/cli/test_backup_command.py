"""``backup`` and ``restore`` as an administrator calls them: exit status, JSON, and one clear message."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.people import Practice
from tests.work.backup_people import a_full_practice, every_file, every_row

ROOT = Path(__file__).resolve().parents[2]


def fullcount(*arguments: str, data: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "app", *arguments],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "FULLCOUNT_DATA_FOLDER": str(data)},
    )


def test_a_sealed_backup_goes_out_and_comes_back_by_the_command_line(practice: Practice, tmp_path: Path) -> None:
    a_full_practice(practice)
    data = practice.store.folder
    pair = fullcount("backup", "--new-key", data=data)
    key = tmp_path / "key.txt"
    key.write_text(pair.stdout)
    public = pair.stdout.splitlines()[0].removeprefix("# public key: ")

    made = fullcount("backup", str(tmp_path / "backup"), "--sealed-for", public, data=data)
    shut = fullcount("restore", str(tmp_path / "backup"), "--to", str(tmp_path / "again"), data=data)
    words = ("--to", str(tmp_path / "again"), "--identity", str(key))
    restored = fullcount("restore", str(tmp_path / "backup"), *words, data=data)
    over = fullcount("restore", str(tmp_path / "backup"), *words, data=data)

    assert "Keep these two lines off this machine" in pair.stderr
    assert (made.returncode, json.loads(made.stdout)["files"]) == (0, 6)
    assert (shut.returncode, shut.stdout) == (2, "")
    assert shut.stderr == f"{tmp_path / 'backup'}: is sealed. Give the key that opens it, with --identity\n"
    assert (restored.returncode, json.loads(restored.stdout)["files"]) == (0, 6)
    assert every_row(tmp_path / "again") == every_row(data)
    assert every_file(tmp_path / "again") == every_file(data)
    assert over.returncode == 2
    assert "is not empty" in over.stderr


def test_a_lost_image_ends_with_1_and_a_missing_data_folder_with_2(practice: Practice, tmp_path: Path) -> None:
    a_full_practice(practice)
    next(each for each in (practice.store.folder / "images").rglob("*") if each.is_file()).unlink()

    lost = fullcount("backup", str(tmp_path / "backup"), data=practice.store.folder)
    nowhere = fullcount("backup", str(tmp_path / "backup"), data=tmp_path / "nowhere")

    assert (lost.returncode, len(json.loads(lost.stdout)["missing"])) == (1, 1)
    assert "Named by the database, and nowhere to be found: images/" in lost.stderr
    assert (nowhere.returncode, nowhere.stdout) == (2, "")
    assert nowhere.stderr.count("\n") == 1
    assert "holds no database" in nowhere.stderr


def test_a_backup_that_is_killed_is_never_taken_for_a_whole_one(practice: Practice, tmp_path: Path) -> None:
    """Killed at several moments; the next one is whole all the same, and takes away what was half written."""
    a_full_practice(practice)
    words = [sys.executable, "-m", "app", "backup", str(tmp_path / "backup")]
    environment = {**os.environ, "FULLCOUNT_DATA_FOLDER": str(practice.store.folder)}
    for patience_s in (0.0, 0.01, 0.03):
        with subprocess.Popen(words, cwd=ROOT, env=environment, stdout=-3, stderr=-3) as process:
            while process.poll() is None and not (tmp_path / "backup" / "generations").exists():
                time.sleep(0.005)
            time.sleep(patience_s)
            process.send_signal(signal.SIGKILL)
    generations = tmp_path / "backup" / "generations"
    whole = [each.name for each in generations.iterdir() if not each.name.startswith(".")]
    checked = fullcount("backup", "--check", str(tmp_path / "backup"), data=tmp_path)

    again = fullcount("backup", str(tmp_path / "backup"), data=practice.store.folder)

    assert checked.returncode == (0 if whole else 1)
    assert again.returncode == 0
    assert not list((tmp_path / "backup").rglob("*.part"))
    assert fullcount("backup", "--check", str(tmp_path / "backup"), data=tmp_path).returncode == 0
