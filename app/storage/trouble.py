"""What is wrong with the data folder when the database or the disk refuses, in words that a person can act on.

::

    DataFolderTrouble
    ├── DatabaseBusy      another process holds the database longer than a writer waits
    ├── DiskFull          no room
    ├── NotWritable       the folder or the database may only be read
    └── DatabaseDamaged   what stands on the disk is no longer a database
"""

from __future__ import annotations

import errno
import sqlite3

from app.core.errors import FullcountError


class DataFolderTrouble(FullcountError):
    """The disk or the database refuses; nothing was half written."""


class DatabaseBusy(DataFolderTrouble):
    """It passes: the same can be tried again."""


class DiskFull(DataFolderTrouble):
    """Somebody must make room."""


class NotWritable(DataFolderTrouble):
    """Somebody must give the right to write back."""


class DatabaseDamaged(DataFolderTrouble):
    """Somebody must restore a backup."""


BUSY = "The database is busy: another program holds it. Nothing was changed. Try again in a few seconds"
FULL = "The disk of the data folder is full. Nothing of this was recorded. Make room there, then try again"
READ_ONLY = (
    "The data folder cannot be written, so nothing of this was recorded. "
    "Give the program the right to write there again, then repeat this"
)
DAMAGED = (
    "The database is damaged. Stop the program, keep the folder as it is, and restore the last backup elsewhere"
)
UNREADABLE = (
    "The disk of the data folder does not answer as it should. Check it, and restore a backup if it is broken"
)

_OF_SQLITE: tuple[tuple[str, type[DataFolderTrouble], str], ...] = (
    ("SQLITE_BUSY", DatabaseBusy, BUSY),
    ("SQLITE_LOCKED", DatabaseBusy, BUSY),
    ("SQLITE_FULL", DiskFull, FULL),
    ("SQLITE_READONLY", NotWritable, READ_ONLY),
    ("SQLITE_CANTOPEN", NotWritable, READ_ONLY),
    ("SQLITE_PERM", NotWritable, READ_ONLY),
    ("SQLITE_CORRUPT", DatabaseDamaged, DAMAGED),
    ("SQLITE_NOTADB", DatabaseDamaged, DAMAGED),
    ("SQLITE_IOERR", DataFolderTrouble, UNREADABLE),
)
"""Beginnings of SQLite's result codes (https://www.sqlite.org/rescode.html)."""

_OF_THE_SYSTEM: dict[int, tuple[type[DataFolderTrouble], str]] = {
    errno.ENOSPC: (DiskFull, FULL),
    errno.EDQUOT: (DiskFull, FULL),
    errno.EROFS: (NotWritable, READ_ONLY),
    errno.EACCES: (NotWritable, READ_ONLY),
    errno.EPERM: (NotWritable, READ_ONLY),
    errno.EIO: (DataFolderTrouble, UNREADABLE),
}


def trouble_of(error: BaseException) -> DataFolderTrouble | None:
    """What is wrong with the data folder, where an error of the database or the disk says so; else None."""
    if isinstance(error, DataFolderTrouble):
        return error
    # SQLAlchemy wraps the driver's error.
    inner = getattr(error, "orig", None) or error
    if isinstance(inner, sqlite3.Error):
        name = getattr(inner, "sqlite_errorname", "")
        return next((kind(words) for begin, kind, words in _OF_SQLITE if name.startswith(begin)), None)
    if isinstance(inner, OSError) and inner.errno in _OF_THE_SYSTEM:
        kind, words = _OF_THE_SYSTEM[inner.errno]
        return kind(words)
    return None
