"""A file system of a few megabytes in memory, which can really be full."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[Path]:
    """Mount one at the folder while this is open; the test is skipped where this machine does not allow it."""
    folder.mkdir(parents=True, exist_ok=True)
    words = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder)]
    done = subprocess.run(words, capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"a file system cannot be mounted here ({done.stderr.strip()}); it takes root")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(folder: Path, leave_bytes: int = 0) -> Path:
    """Fill the disk with one file, but for so many bytes."""
    file = folder / "filler"
    free = os.statvfs(folder).f_bavail * os.statvfs(folder).f_frsize
    with open(file, "wb") as out:
        out.write(bytes(max(0, free - leave_bytes)))
    return file
