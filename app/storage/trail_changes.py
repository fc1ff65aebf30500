"""What a transaction writes, caught where it is sent to the database: nothing that writes can go round it.

Statements of the session's own flush, bulk statements and plain SQL all pass here. Kept are table, operation, ids
of the rows and names of the columns: never a value.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Delete, Engine, Insert, Table, Update, event, select

from app.storage.trail_noise import NOT_SAID, is_noise

SLOT = "trail"
"""Under this name a connection knows the log of the transaction that it is in."""

_READS = re.compile(r"\s*(SELECT|PRAGMA|EXPLAIN|VALUES|SHOW|SAVEPOINT|RELEASE|ROLLBACK|BEGIN|COMMIT|SET)\b", re.I)
_WRITES_INSIDE = re.compile(r"\b(INSERT|UPDATE|DELETE|MERGE)\b", re.I)
_FIRST_WORD = re.compile(r"\s*(\w+)")
_NAMED = ("patient_id", "series_id", "exposure_id", "staff_id", "practice_id")


@dataclass
class ChangeLog:
    """The rows that one transaction has written so far."""

    practice_id: str = ""
    rows: dict[tuple[str, str, frozenset[str]], list[str]] = field(default_factory=dict)
    named: dict[str, set[str]] = field(default_factory=dict)
    """Ids of patients, series, exposures, people and practices that new rows name."""
    matched: list[str] = field(default_factory=list)
    """Ids that the bulk statement under way will reach."""

    def put(self, table: str, operation: str, columns: frozenset[str], ids: Sequence[str]) -> None:
        """Note rows, unless it is noise."""
        if not is_noise(table, operation, columns):
            self.rows.setdefault((table, operation, columns), []).extend(ids)

    def name(self, values: Mapping[str, Any]) -> None:
        """Note whom a new row is about."""
        for key in _NAMED:
            if isinstance(values.get(key), str):
                self.named.setdefault(key, set()).add(values[key])

    def touched(self, operation: str = "") -> dict[str, list[str]]:
        """Ids by table, of one operation or of all."""
        found: dict[str, list[str]] = {}
        for (table, done, _), ids in self.rows.items():
            if operation in ("", done):
                found.setdefault(table, []).extend(ids)
        return found

    def as_details(self) -> list[dict[str, Any]]:
        """As it stands in the trail: one line for rows of one table with the same columns changed."""
        columns_of: dict[tuple[str, str, str], frozenset[str]] = {}
        for (table, operation, columns), ids in self.rows.items():
            for row_id in ids or [""]:
                key = (table, operation, row_id)
                columns_of[key] = columns_of.get(key, frozenset()) | columns
        lines: dict[tuple[str, str, frozenset[str]], list[str]] = {}
        for (table, operation, row_id), columns in columns_of.items():
            lines.setdefault((table, operation, columns), []).extend([row_id] if row_id else [])
        return [
            {"table": table, "operation": operation, "rows": ids}
            | ({"columns": sorted(columns)} if operation == "update" else {})
            for (table, operation, columns), ids in lines.items()
        ]

    def in_words(self) -> str:
        """One line: the tables, with how many rows."""
        words = {"insert": "new", "update": "changed", "delete": "taken out"}
        counts: dict[tuple[str, str], set[str]] = {}
        for (table, operation, _), ids in self.rows.items():
            counts.setdefault((table, operation), set()).update(ids)
        return "; ".join(
            f"{table}: {len(ids)} {words.get(operation, operation)}" for (table, operation), ids in counts.items()
        )


def _key_label(table: Table) -> str:
    # The name under which a flush binds the key of the row that it writes.
    return f"{table.name}_{_key(table).key}"


def _key(table: Table) -> Any:
    return next(iter(table.primary_key))


def listen(engine: Any) -> None:
    """Have every statement of the engine's connections pass here (the engine of writers, and only that)."""
    event.listen(engine, "before_execute", _before)
    event.listen(engine, "after_execute", _after)
    event.listen(engine, "before_cursor_execute", _plain)


def _log_of(connection: Connection) -> ChangeLog | None:
    found: ChangeLog | None = connection.info.get(SLOT)
    return found


def _before(connection: Connection, clause: Any, many: Any, one: Any, options: Any) -> None:
    """Ask which rows a bulk statement will reach, before it does."""
    log = _log_of(connection)
    if log is None or not isinstance(clause, Update | Delete) or not isinstance(clause.table, Table):
        return
    table = clause.table
    log.matched = []
    operation = "update" if isinstance(clause, Update) else "delete"
    if is_noise(table.name, operation, _set_by(clause, one)):
        return
    given = many[0] if many else one
    if _key_label(table) in given:
        return
    query = select(_key(table))
    if clause.whereclause is not None:
        query = query.where(clause.whereclause)
    if log.practice_id and "practice_id" in table.c:
        query = query.where(table.c.practice_id == log.practice_id)
    # One question for each row that a flush takes out: a driver answers only one at a time.
    log.matched = [
        str(key) for values in many or [one] for key in connection.execute(query, values or None).scalars()
    ]


def _set_by(clause: Update | Delete, values: Mapping[str, Any]) -> frozenset[str]:
    if isinstance(clause, Delete):
        return frozenset()
    table: Any = clause.table
    written: Mapping[Any, Any] = getattr(clause, "_values", None) or {}
    ordered: Sequence[Any] = getattr(clause, "_ordered_values", None) or ()
    names = {getattr(key, "key", key) for key in [*written, *(pair[0] for pair in ordered)]}
    return frozenset(names | (set(values) & set(table.c.keys()))) - NOT_SAID


def _after(connection: Connection, clause: Any, many: Any, one: Any, options: Any, result: Any) -> None:
    log = _log_of(connection)
    if log is None or not isinstance(clause, Insert | Update | Delete) or not isinstance(clause.table, Table):
        return
    table = clause.table
    given: list[dict[str, Any]] = result.context.compiled_parameters or [{}]
    if isinstance(clause, Insert):
        log.put(table.name, "insert", frozenset(), _new_keys(table, given))
        if not is_noise(table.name, "insert", frozenset()):
            for each in given:
                log.name(each)
        return
    operation = "update" if isinstance(clause, Update) else "delete"
    label = _key_label(table)
    columns = _set_by(clause, (many[0] if many else one))
    ids = [str(each[label]) for each in given if label in each] or log.matched
    log.matched = []
    if ids or result.rowcount:
        log.put(table.name, operation, columns, ids)


def _new_keys(table: Table, given: Sequence[Mapping[str, Any]]) -> list[str]:
    key = str(_key(table).key)
    # Rows of one statement with several rows bind id_m0, id_m1, …
    several = re.compile(rf"{key}(_m\d+)?")
    return [str(value) for each in given for name, value in each.items() if several.fullmatch(name)]


def _plain(connection: Connection, cursor: Any, statement: str, values: Any, context: Any, many: bool) -> None:
    """Plain SQL that writes: its rows are not known, but that it wrote is."""
    log = _log_of(connection)
    known = context is not None and (context.isinsert or context.isupdate or context.isdelete)
    if log is None or known:
        return
    reads = _READS.match(statement)
    if reads and reads.group(1).upper() != "EXPLAIN":
        return
    first = _FIRST_WORD.match(statement)
    if first and first.group(1).upper() == "WITH" and not _WRITES_INSIDE.search(statement):
        return
    named = re.search(r"\b(?:INTO|UPDATE|FROM|TABLE)\s+\"?(\w+)", statement, re.I)
    verb = first.group(1).lower() if first else "statement"
    log.put(named.group(1).lower() if named else "database", f"plain {verb}", frozenset(), [])


def watch(connection: Connection, log: ChangeLog) -> None:
    """From here on the connection's statements belong to this log."""
    connection.info[SLOT] = log


def writers_of(engine: Engine) -> Engine:
    """The engine's writers: their transactions take the write lock at once, and what they write is caught."""
    writers = engine.execution_options(writer=True)
    listen(writers)
    return writers
