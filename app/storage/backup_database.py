"""The database of a data folder, copied at one moment while others go on writing; and what the copy says."""
# ruff: noqa: S608 - names of tables and columns stand in this file, or come from the database itself

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.core.errors import InputError
from app.storage.backup_files import PART, held, sync_file
from app.storage.database import BUSY_TIMEOUT_MS
from app.storage.folder_check import DATABASE_NAME, check_folder
from app.storage.kept_files import KEPT
from app.storage.trouble import DiskFull, trouble_of

_WORKPLACE = ".backup-"

KINDS = tuple(each.folder for each in KEPT)


@dataclass(frozen=True, kw_only=True)
class DatabaseFacts:
    """What stands in a copy of the database.

    Parameters
    ----------
    revision : of its tables; empty where it has none
    named : folder and SHA-256 of every file that a row names
    rows : how many rows each table has
    trail : the last entry of the audit trail, of each practice; None where there is no trail
    """

    revision: str
    named: frozenset[tuple[str, str]]
    rows: dict[str, int]
    trail: list[dict[str, Any]] | None


def copy_database(data_folder: Path, target: Path) -> DatabaseFacts:
    """Copy the database as it is at one moment, and look whether the copy is sound.

    One step of SQLite's online backup: it reads under one snapshot, so that whoever writes meanwhile neither waits
    nor is seen by half.

    Raises
    ------
    InputError
        There is no database, it cannot be read, or the copy is not sound.
    """
    source = data_folder / DATABASE_NAME
    if not source.is_file():
        raise InputError(
            str(data_folder), f"holds no database ({DATABASE_NAME}). Name the folder in FULLCOUNT_DATA_FOLDER"
        )
    check_folder(data_folder)
    target.unlink(missing_ok=True)
    try:
        with _reading(source) as original, closing(sqlite3.connect(target)) as copy:
            original.backup(copy, pages=-1)
            # One file, without a log beside it.
            copy.execute("PRAGMA journal_mode = DELETE")
            return _sound_facts(copy, source)
    except sqlite3.Error as error:
        if isinstance(trouble_of(error), DiskFull):
            raise InputError(
                str(target.parent), "has no room for the database (No space left on device). Make room, run again"
            ) from error
        raise InputError(str(source), f"cannot be copied ({error}). Restore the last whole backup") from error


def facts_of(database: Path) -> DatabaseFacts:
    """What stands in a database file that nobody writes.

    Raises
    ------
    InputError
        It is not sound.
    """
    try:
        with closing(
            sqlite3.connect(f"{database.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        ) as connection:
            return _sound_facts(connection, database)
    except sqlite3.Error as error:
        raise InputError(str(database), f"is no sound database ({error}). Take another generation") from error


def make_ready(database: Path) -> None:
    """Have a restored copy keep its log beside it again, as the program and its checks expect to find it."""
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    sync_file(database)


@contextmanager
def workplace(data_folder: Path) -> Iterator[Path]:
    """A folder inside the data folder for a copy that must not lie anywhere else unsealed; gone afterwards.

    One that a killed backup left is taken away: it holds nothing but a copy.
    """
    for left in data_folder.glob(f"{_WORKPLACE}*{PART}"):
        with suppress(InputError, OSError), held(left / ".lock", "in use"):
            shutil.rmtree(left)
    with (
        tempfile.TemporaryDirectory(prefix=_WORKPLACE, suffix=PART, dir=data_folder) as made,
        held(Path(made) / ".lock", "in use"),
    ):
        yield Path(made)


@contextmanager
def _reading(source: Path) -> Iterator[sqlite3.Connection]:
    address = source.resolve().as_uri()
    connection = sqlite3.connect(f"{address}?mode=rw", uri=True, timeout=BUSY_TIMEOUT_MS / 1000)
    try:
        try:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.OperationalError:
            log = source.with_name(source.name + "-wal")
            if log.exists() and log.stat().st_size:
                raise
            # A folder that cannot be written, of a server that was stopped in order: nothing can change it.
            connection.close()
            connection = sqlite3.connect(f"{address}?mode=ro&immutable=1", uri=True)
        yield connection
    finally:
        connection.close()


def _sound_facts(connection: sqlite3.Connection, where: Path) -> DatabaseFacts:
    said = connection.execute("PRAGMA integrity_check").fetchone()[0]
    if said != "ok":
        raise InputError(str(where), f"is damaged ({said}). Restore the last whole backup")
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
    tables = sorted(str(row[0]) for row in found)
    named = {
        (kept.folder, str(row[0]))
        for kept in KEPT
        if kept.table in tables
        # What was erased keeps its row and names a file no longer.
        for row in connection.execute(
            f"SELECT DISTINCT {kept.column} FROM {kept.table} WHERE {kept.column} NOT LIKE 'erased-%'"  # nosec B608
        )
    }
    return DatabaseFacts(
        revision=_revision(connection) if "alembic_version" in tables else "",
        named=frozenset(named),
        rows={name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in tables},  # nosec B608
        trail=_trail_head(connection) if "trail_entry" in tables else None,
    )


def _revision(connection: sqlite3.Connection) -> str:
    row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(row[0]) if row else ""


_OF_THE_CHAIN = ("id", "number", "position", "practice_id", "at", "hash", "sha256", "entry_hash", "digest", "link")
"""Columns of a trail's entry that say where it stands in the chain, and nothing about a patient."""


def _trail_head(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    columns = [str(row[1]) for row in connection.execute("PRAGMA table_info(trail_entry)")]
    kept = [name for name in columns if name in _OF_THE_CHAIN]
    by = "practice_id" if "practice_id" in columns else "NULL"
    rows = connection.execute(
        f"SELECT {', '.join(kept) or 'rowid'} FROM trail_entry "  # nosec B608
        f"WHERE rowid IN (SELECT max(rowid) FROM trail_entry GROUP BY {by}) ORDER BY rowid"
    )
    return [dict(zip(kept or ["rowid"], row, strict=True)) for row in rows]
