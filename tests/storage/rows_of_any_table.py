"""A row for any table, made from what the database itself says of it: types, checks, and the rows it may name."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    Date,
    DateTime,
    Engine,
    Float,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Time,
    inspect,
    select,
)

EMPTY = {("recall_prescription", "interval_months"), ("correction", "exposure_id")}
"""Columns that a check wants empty where another one is not."""
MOMENT = datetime(2026, 3, 27, 9, 30)
LATER = datetime(2026, 3, 27, 10, 30)


CHAINED = ("trail_entry", "trail_head")
"""Tables whose triggers take only what continues a chain; what is in them is proved by tests of their own."""


def a_row_in_each(engine: Engine, tables: MetaData) -> None:
    """Put one row into every table that has none, those first that others name."""
    with engine.begin() as connection:
        for table in tables.sorted_tables:
            if (
                table.name in ("alembic_version", *CHAINED)
                or connection.execute(select(table).limit(1)).first() is not None
            ):
                continue
            connection.execute(table.insert().values(_values(connection, table)))


def _values(connection: Connection, table: Table) -> dict[str, Any]:
    checks = " ".join(str(each["sqltext"]) for each in inspect(connection).get_check_constraints(table.name))
    allowed = {
        name: re.findall(r"'([^']*)'", listed)[0] for name, listed in re.findall(r"(\w+) in \(([^)]*)\)", checks)
    }
    return {
        column.name: None if (table.name, column.name) in EMPTY else _value(connection, column, allowed)
        for column in table.columns
    }


def _value(connection: Connection, column: Column[Any], allowed: dict[str, str]) -> Any:
    for key in column.foreign_keys:
        named = connection.execute(select(key.column).limit(1)).scalar()
        return named
    if column.name in allowed:
        return allowed[column.name]
    kind = column.type
    simple: list[tuple[type, Any]] = [
        (Boolean, True),
        (DateTime, LATER if column.name.startswith("end") else MOMENT),
        (Date, date(2026, 3, 27)),
        (Time, time(17 if column.name.startswith("close") else 8)),
        (Integer, 1),
        (Float, 0.5),
        (LargeBinary, b"\x01\x02"),
        (JSON, {"kept": ["as", 1]}),
    ]
    for known, value in simple:
        if isinstance(kind, known):
            return value
    return f"{column.name}-1"
