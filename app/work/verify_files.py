"""Whether every recorded file is there and is what was recorded, and which files no row names."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Engine

from app.storage.kept_files import KEPT, PREFIXES, Kept, is_recorded, on_disk, out_of_place, recorded

CHUNK = 1 << 20
MOST_LISTED = 500
"""Findings listed one by one; the rest are counted."""

LOOK_AGAIN = 2000
"""Files without a row that are looked at a second time, because one may just be arriving."""


@dataclass(frozen=True, kw_only=True)
class FileFinding:
    """A file that is not as it should be.

    Parameters
    ----------
    code : file_missing, file_damaged, file_unreadable, orphan, left_over, out_of_place
    path : below the data folder
    """

    code: str
    path: str
    message: str


@dataclass
class FilesChecked:
    """What was looked at, and found."""

    recorded: dict[str, int] = field(default_factory=dict)
    findings: list[FileFinding] = field(default_factory=list)
    not_listed: int = 0

    def add(self, found: FileFinding) -> None:
        """List it, or count it where the list is long already."""
        if len(self.findings) < MOST_LISTED:
            self.findings.append(found)
        else:
            self.not_listed += 1


def check_files(engine: Engine, folder: Path, *, settle_s: float) -> FilesChecked:
    """Read every recorded file; list missing, damaged and unnamed ones. Nothing is deleted.

    Parameters
    ----------
    settle_s : seconds that files without a row are given to get one: a running server keeps a file first and
        records it a moment later
    """
    checked = FilesChecked()
    unnamed: list[tuple[Kept, Path]] = []
    for kept in KEPT:
        checked.recorded[kept.folder] = 0
        base = folder / kept.folder
        for path in out_of_place(base):
            checked.add(_unnamed(folder, kept, path))
        for prefix in PREFIXES:
            # The disk first: a file that arrives in between has its row or none, never a row without a file.
            names, others = on_disk(base, prefix)
            with engine.connect() as connection:
                wanted = recorded(connection, kept, prefix)
            checked.recorded[kept.folder] += len(wanted)
            for found in _compared(engine, folder, kept, prefix, wanted):
                checked.add(found)
            unnamed += [(kept, base / prefix / name) for name in sorted(names - wanted)]
            unnamed += [(kept, path) for path in others]
    for kept, path in _still_unnamed(engine, unnamed, settle_s):
        checked.add(_unnamed(folder, kept, path))
    return checked


def _compared(engine: Engine, folder: Path, kept: Kept, prefix: str, wanted: set[str]) -> Iterator[FileFinding]:
    for name in sorted(wanted):
        path = folder / kept.folder / prefix / name
        try:
            same = sha256_of(path) == name
        except FileNotFoundError:
            with engine.connect() as connection:
                still = is_recorded(connection, kept, name)
            if still:
                yield _finding("file_missing", folder, path, f"the file of a recorded {kept.what} is missing")
            continue
        except OSError as error:
            why = error.strerror or str(error)
            yield _finding("file_unreadable", folder, path, f"the file of a recorded {kept.what}: {why}")
            continue
        if not same:
            message = f"the file of a recorded {kept.what} is no longer what was recorded"
            yield _finding("file_damaged", folder, path, message)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, read piece by piece."""
    digest = hashlib.sha256()
    with open(path, "rb") as file:
        while piece := file.read(CHUNK):
            digest.update(piece)
    return digest.hexdigest()


def _still_unnamed(
    engine: Engine, unnamed: list[tuple[Kept, Path]], settle_s: float
) -> Iterator[tuple[Kept, Path]]:
    """Those that have no row after a while either, and are still there."""
    end = time.monotonic() + settle_s
    left, rest = unnamed[:LOOK_AGAIN], unnamed[LOOK_AGAIN:]
    # Only a file that arrived just now may get its row yet.
    while left and time.monotonic() < end and any(_is_young(path, settle_s) for _, path in left):
        time.sleep(0.25)
        left = _without_row(engine, left)
    yield from _without_row(engine, left)
    yield from rest


def _without_row(engine: Engine, files: list[tuple[Kept, Path]]) -> list[tuple[Kept, Path]]:
    with engine.connect() as connection:
        return [
            (kept, path) for kept, path in files if path.exists() and not is_recorded(connection, kept, path.name)
        ]


def _is_young(path: Path, settle_s: float) -> bool:
    try:
        return abs(time.time() - path.stat().st_mtime) <= settle_s
    except OSError:
        return False


def _unnamed(folder: Path, kept: Kept, path: Path) -> FileFinding:
    if path.name.endswith(".part"):
        return _finding("left_over", folder, path, "left over from a file that was being written when it ended")
    if len(path.relative_to(folder / kept.folder).parts) == 2 and len(path.name) == 64:
        message = f"a file that no {kept.what} names: it was kept, and never recorded"
        return _finding("orphan", folder, path, message)
    return _finding("out_of_place", folder, path, "is not named like a kept file")


def _finding(code: str, folder: Path, path: Path, message: str) -> FileFinding:
    return FileFinding(code=code, path=str(path.relative_to(folder)), message=message)
