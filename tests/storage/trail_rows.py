"""What a test reads of the trail, and ways round its guards."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import text
from sqlmodel import col, select

from app.storage.database import Store
from app.storage.trail import TrailEntry


def entries(store: Store, kind: str = "") -> list[TrailEntry]:
    """Every entry of the data folder, oldest first."""
    with store.reading() as scope:
        query = select(TrailEntry).order_by(col(TrailEntry.number))
        return [each for each in scope.session.exec(query) if kind in ("", each.kind)]


def changes(entry: TrailEntry) -> list[dict[str, Any]]:
    """The rows that an entry says were written."""
    found: list[dict[str, Any]] = json.loads(entry.details).get("changes", [])
    return found


def unguarded(store: Store, *statements: str) -> None:
    """Run statements as somebody would who can open the database: its triggers are off meanwhile."""
    with store.engine.begin() as connection:
        if connection.dialect.name == "sqlite":
            query = text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'trail%'")
            triggers = list(connection.execute(query))
            for name, _ in triggers:
                connection.execute(text(f"DROP TRIGGER {name}"))
            for each in statements:
                connection.execute(text(each))
            for _, made in triggers:
                connection.exec_driver_sql(made)
            return
        for table in ("trail_entry", "trail_head"):
            connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER ALL"))
        for each in statements:
            connection.execute(text(each))
        for table in ("trail_entry", "trail_head"):
            connection.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER ALL"))
