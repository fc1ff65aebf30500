"""Image files are named by what they hold, and a name stands only for a whole file."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path
from threading import Barrier, Thread

import pytest

from app.storage.image_store import ImageDamaged, ImageMissing, ImageStore

DATA = b"\x89 eighteen grey levels" * 999
NAME = hashlib.sha256(DATA).hexdigest()


@pytest.fixture
def images(tmp_path: Path) -> ImageStore:
    return ImageStore(tmp_path / "images")


def files(images: ImageStore) -> list[str]:
    """The names of all files below the store's folder, temporary ones too."""
    return sorted(each.name for each in images.folder.rglob("*") if each.is_file())


def keep_in_another_process(images: ImageStore, before: str) -> subprocess.CompletedProcess[bytes]:
    """Keep DATA in a process in which something else has been arranged first."""
    script = (
        "import os, resource, sys; from pathlib import Path; from app.storage.image_store import ImageStore\n"
        f"{before}\n"
        "ImageStore(Path(sys.argv[1])).keep(sys.stdin.buffer.read())"
    )
    return subprocess.run([sys.executable, "-c", script, str(images.folder)], input=DATA, capture_output=True)


def test_a_file_is_kept_under_its_sha256_and_read_back(images: ImageStore) -> None:
    assert images.keep(DATA) == NAME
    assert images.read(NAME) == DATA
    assert images.names() == [NAME]


def test_keeping_a_file_twice_leaves_the_first_as_it_is(images: ImageStore) -> None:
    images.keep(DATA)
    before = images.path(NAME).stat()
    images.keep(DATA)

    after = images.path(NAME).stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert files(images) == [NAME]


def test_many_may_keep_the_same_file_at_once(images: ImageStore) -> None:
    together = Barrier(8)

    def keep() -> None:
        together.wait()
        images.keep(DATA)

    threads = [Thread(target=keep) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert images.read(NAME) == DATA
    assert files(images) == [NAME]


@pytest.mark.parametrize("damage", [DATA[:100], b"\0" + DATA[1:], b""], ids=["cut short", "one byte", "emptied"])
def test_a_damaged_file_is_never_shown_and_is_mended_when_it_comes_again(
    images: ImageStore, damage: bytes
) -> None:
    images.keep(DATA)
    images.path(NAME).write_bytes(damage)

    with pytest.raises(ImageDamaged, match=f"{NAME[:12]}… is damaged"):
        images.read(NAME)
    images.keep(DATA)
    assert images.read(NAME) == DATA


@pytest.mark.parametrize(
    "name",
    [
        "",
        "..",
        "../../etc/passwd",
        "/etc/passwd",
        NAME[:-1],
        NAME + "0",
        NAME.upper(),
        NAME + "\n",
        NAME[:61] + "/..",
        NAME[:63] + "\0",
        f".{NAME}.0000.part",
        "".join(chr(0x0660 + int(letter, 16) % 10) for letter in NAME),
    ],
)
def test_no_other_path_can_be_asked_for(images: ImageStore, name: str) -> None:
    images.keep(DATA)

    with pytest.raises(ImageMissing, match="not the name of an image"):
        images.path(name)
    with pytest.raises(ImageMissing, match="not the name of an image"):
        images.read(name)


def test_a_lost_file_is_told_by_name(images: ImageStore) -> None:
    with pytest.raises(ImageMissing, match=f"{NAME[:12]}… is missing from the data folder"):
        images.read(NAME)


def test_a_crash_before_the_rename_leaves_nothing_under_the_name(images: ImageStore) -> None:
    crashed = keep_in_another_process(images, "os.replace = lambda *_: os._exit(9)")

    assert crashed.returncode == 9
    assert [name.endswith(".part") for name in files(images)] == [True]
    assert images.names() == []
    assert images.keep(DATA) == NAME
    assert images.read(NAME) == DATA


def test_a_disk_that_takes_no_more_leaves_nothing_at_all(images: ImageStore) -> None:
    """The system itself refuses the write half way: no file of this process may pass 4096 bytes."""
    refused = keep_in_another_process(images, "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))")

    assert b"File too large" in refused.stderr
    assert files(images) == []
