"""The database: SQLite in the data folder, one writer at a time; or any address that SQLAlchemy knows.

Readers see the last committed state (write-ahead log); a writer takes the write lock when its transaction begins,
so that what it read is still true when it writes.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.orm.exc import StaleDataError

from app.storage import every_table  # noqa: F401 - the tables must be known before migrations compare
from app.storage.folder_check import DATABASE_NAME, check_folder
from app.storage.image_store import ImageStore
from app.storage.migrations.run import migrate
from app.storage.practice_scope import PracticeScope
from app.storage.trail_changes import writers_of
from app.storage.trail_group import TrailWriter
from app.storage.trail_notes import ReadingSession, WritingSession
from app.storage.versions import ChangedAtOnce

BUSY_TIMEOUT_MS = 5000
"""How long a writer waits for another before it is told that the database is busy."""


def open_engine(address: str, *, durable: bool = True) -> Engine:
    """An engine for an SQLAlchemy address, with SQLite set up as this program needs it."""
    # The text of a database error would quote the values of the row, and so bring names into logs.
    engine = create_engine(address, hide_parameters=True)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        if not durable:
            event.listen(engine, "connect", _do_not_wait_for_the_disk)
    return engine


def open_to_read(file: Path) -> Engine:
    """An engine that only reads a SQLite file, also one that another process writes, or that nobody may."""
    # As in an address: these three would end the path.
    name = str(file.resolve()).replace("%", "%25").replace("?", "%3f").replace("#", "%23")
    return create_engine(f"sqlite:///file:{name}?mode=ro&uri=true")


def _prepare_sqlite(connection: sqlite3.Connection, _record: Any) -> None:
    # Transactions are begun by us (below), not guessed by the driver.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    cursor.execute("PRAGMA journal_mode = WAL")
    # An acknowledged exposure survives a power cut.
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.execute("PRAGMA foreign_keys = ON")
    # So that INSERT OR REPLACE, too, meets the trigger that keeps exposures.
    cursor.execute("PRAGMA recursive_triggers = ON")
    cursor.close()


def _do_not_wait_for_the_disk(connection: sqlite3.Connection, _record: Any) -> None:
    connection.execute("PRAGMA synchronous = OFF")


def _begin_sqlite(connection: Connection) -> None:
    writer = connection.get_execution_options().get("writer", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writer else "BEGIN")


class Store:
    """The data folder: the database, the image files and the signed reports beside it.

    Parameters
    ----------
    folder : made where it is missing
    address : SQLAlchemy address of the database; by default ``fullcount.sqlite3`` in the folder
    durable : False only for data that may be thrown away: nothing then waits for the disk
    """

    def __init__(self, folder: Path, address: str | None = None, *, durable: bool = True) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        if address is None:
            check_folder(folder)
        self.engine = open_engine(address or f"sqlite:///{folder / DATABASE_NAME}", durable=durable)
        self._writers = writers_of(self.engine)
        self.trail = TrailWriter(self.writing)
        self.images = ImageStore(folder / "images", durable=durable)
        # Signed reports are kept the same way: by their SHA-256, written once.
        self.reports = ImageStore(folder / "reports", durable=durable)

    def migrate(self) -> None:
        """Bring the tables to the newest revision."""
        migrate(self.engine)

    def close(self) -> None:
        """Give back every connection."""
        self.engine.dispose()

    @contextmanager
    def reading(self, practice_id: str = "") -> Iterator[PracticeScope]:
        """One consistent view of one practice's rows."""
        with ReadingSession(self.engine, expire_on_commit=False) as session:
            yield PracticeScope(session, practice_id)

    @contextmanager
    def writing(self, practice_id: str = "") -> Iterator[PracticeScope]:
        """One transaction on one practice's rows: committed at the end, undone by any error.

        What it writes stands in the trail with it, or none of it does.

        Raises
        ------
        ChangedAtOnce
            Another transaction changed a row that this one had read and was about to change.
        """
        try:
            with WritingSession(self._writers, practice_id) as session, session.begin():
                yield PracticeScope(session, practice_id)
        except StaleDataError as stale:
            raise ChangedAtOnce from stale
