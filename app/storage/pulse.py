"""Whether anything was written into the database since one asked last: cheap enough to ask every second."""

from __future__ import annotations

from sqlalchemy import Connection, Engine, text


class Pulse:
    """Feels one database, whoever writes into it: this process, or another one.

    On SQLite it is ``PRAGMA data_version``, a count that changes with every commit of another connection; on
    PostgreSQL the first transaction number not yet given out.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._connection: Connection | None = None
        self._last = ""

    def moved(self) -> bool:
        """Whether somebody wrote since this was asked last; True when asked first."""
        before, self._last = self._last, self._read()
        return before != self._last

    def _read(self) -> str:
        if self._connection is None:
            # One connection for good: what it reads is a count of its own.
            self._connection = self._engine.connect()
        if self._engine.dialect.name == "sqlite":
            # Outside a transaction, which would go on seeing what it saw first.
            found = self._connection.connection.cursor().execute("PRAGMA data_version").fetchone()
            return str(found[0])
        moved = self._connection.execute(text("SELECT pg_snapshot_xmax(pg_current_snapshot())")).scalar()
        self._connection.rollback()
        return str(moved)

    def close(self) -> None:
        """Give the connection back."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None
