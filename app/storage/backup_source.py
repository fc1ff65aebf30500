"""The files of a data folder as a backup finds them."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

from app.storage.backup_database import KINDS
from app.storage.image_store import ImageStore

OLD_S = 24 * 3600.0
"""A temporary file, or one that no row names, may belong to an upload under way; after a day it does not."""


@dataclass(frozen=True, kw_only=True)
class SourceFile:
    """A file of a store, by its folder and its SHA-256."""

    kind: str
    sha256: str
    path: Path
    size: int


def source_files(data_folder: Path) -> dict[tuple[str, str], SourceFile]:
    """Every file of the stores, whether a row names it or not."""
    found = {}
    for kind in KINDS:
        store = ImageStore(data_folder / kind)
        for sha256 in store.names():
            path = store.path(sha256)
            found[kind, sha256] = SourceFile(kind=kind, sha256=sha256, path=path, size=path.stat().st_size)
    return found


def is_old(path: Path) -> bool:
    """Whether a file was last written more than a day ago."""
    return time.time() - path.stat().st_mtime > OLD_S


def left_parts(data_folder: Path) -> list[str]:
    """Temporary files of the stores older than a day: what a crash left of an upload. Nobody deletes them."""
    found = (each for kind in KINDS for each in (data_folder / kind).glob("??/.*.part"))
    return sorted(each.relative_to(data_folder).as_posix() for each in found if is_old(each))
