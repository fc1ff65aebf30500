"""A data folder that can no longer be written: reading goes on, whatever would write is refused in words."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from app.work.backups import back_up
from tests.durability.serving import RADIOGRAPHS, ROOT, log_in, serving, upload
from tests.durability.whole import recorded
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.client import Page, check


def without_rights() -> list[str]:
    """Words that have a command mind the rights of files, as root does not otherwise."""
    if os.geteuid() != 0:
        return []
    words = ["setpriv", "--bounding-set=-dac_override,-dac_read_search,-fowner", "--inh-caps=-all"]
    if shutil.which("setpriv") is None or subprocess.run([*words, "true"], capture_output=True).returncode:
        pytest.skip("root minds no rights of files, and there is no setpriv to change that")
    return words


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Take the right to write from everything in the folder."""
    before = {each: each.stat().st_mode for each in (folder, *folder.rglob("*"))}
    for each, mode in before.items():
        each.chmod(mode & ~0o222)
    try:
        yield
    finally:
        for each, mode in before.items():
            if each.exists():
                each.chmod(mode)


def test_in_a_folder_made_read_only_people_read_on_and_writing_is_refused_in_words(practice: Practice) -> None:
    series = a_series(practice)
    kept = loaded(practice, series)
    who = log_in(practice)
    folder = practice.store.folder
    sha256 = next(each.name for each in (folder / "images").glob("??/*"))
    with serving(folder, before=without_rights()) as server, who.client(server) as client:
        client.get(f"/series/{series.id}")
        with read_only(folder):
            refused = upload(client, who, series.id, RADIOGRAPHS[:2])
            page = client.post(
                f"/series/{series.id}/images",
                data={"csrf_token": who.csrf_token},
                files=[("files", (RADIOGRAPHS[0].name, RADIOGRAPHS[0].read_bytes(), "image/jpeg"))],
            )
            reading = client.get(f"/series/{series.id}")
            image = client.get(f"/images/{sha256}")
        rows = recorded(practice)
        again = upload(client, who, series.id, RADIOGRAPHS[:2])

    assert refused.status_code == 503
    assert refused.json()["error"]["message"].startswith("The data folder cannot be written")
    assert page.status_code == 503
    check(Page(page))
    assert (reading.status_code, image.status_code) == (200, 200)
    assert [each for each, _ in rows[series.id]] == [kept.id]
    assert [each["outcome"] for each in again.json()["results"]] == ["taken", "taken"]


def on_a_read_only_mount(folder: Path) -> list[str]:
    """Words that run a command for which the folder is mounted read-only, in a mount namespace of its own."""
    script = 'mount --bind "$0" "$0" && mount -o remount,bind,ro "$0" && exec "$@"'
    words = ["unshare", "--mount", "sh", "-c", script, str(folder)]
    if os.geteuid() != 0:
        words = ["unshare", "--mount", "--map-root-user", *words[2:]]
    if (
        shutil.which("unshare") is None
        or (done := subprocess.run([*words, "true"], capture_output=True)).returncode
    ):
        pytest.skip(f"no read-only mount can be made here ({done.stderr.decode().strip()})")
    return words


def test_a_server_does_not_start_on_a_read_only_mount_and_says_why_in_one_line(practice: Practice) -> None:
    practice.store.close()
    folder = practice.store.folder

    words = [*on_a_read_only_mount(folder), sys.executable, "-m", "app", "serve", "--port", "0"]
    environment = {**os.environ, "FULLCOUNT_DATA_FOLDER": str(folder)}
    done = subprocess.run(words, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120)

    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith(f'FULLCOUNT_DATA_FOLDER: the data folder "{folder}" cannot be written')


def test_a_backup_of_a_read_only_mount_is_whole_and_says_that_the_folder_does_not_know(
    practice: Practice, tmp_path: Path
) -> None:
    """Nothing can change there, so what is copied is one moment."""
    loaded(practice, a_series(practice))
    practice.store.close()
    words = [*on_a_read_only_mount(practice.store.folder), sys.executable, "-m", "app", "backup"]
    environment = {**os.environ, "FULLCOUNT_DATA_FOLDER": str(practice.store.folder)}

    done = subprocess.run(
        [*words, str(tmp_path / "backup")], cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120
    )

    assert done.returncode == 1
    assert "could not be told of this backup" in done.stderr
    assert back_up(practice.store.folder, tmp_path / "backup").new_files == 1
