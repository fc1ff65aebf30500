"""Versions: every row that two people may edit counts its changes, and says who changed which column when.

The count is SQLAlchemy's version counter: an UPDATE names the version that its transaction has read, so that of
two transactions that read the same one only the first can write, on every database and at every isolation level.
Nobody raises it by hand; a hook of the session notes who changed what.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import event, inspect
from sqlalchemy.orm import Mapper
from sqlalchemy.orm.attributes import flag_modified
from sqlalchemy.orm.session import Session
from sqlmodel import JSON, Field, SQLModel

from app.core.errors import FullcountError
from app.storage.acting import who_acts
from app.storage.columns import now

OWN_COLUMNS = frozenset({"row_version", "touched"})
"""Columns that this module writes; a change of nothing else is no change."""


class ChangedAtOnce(FullcountError):
    """Another transaction changed the same row between this one's reading and its writing."""

    def __init__(self) -> None:
        super().__init__(
            "A colleague changed the same thing in the same moment, so nothing of yours was kept. "
            "Load the page again, look at what is there now, and repeat what is still needed"
        )


class Versioned(SQLModel):
    """What a row that two people may edit has beside its own columns."""

    row_version: int = Field(default=1, sa_column_kwargs={"server_default": "1"}, nullable=False)
    touched: dict[str, Any] = Field(
        default_factory=dict,
        sa_type=JSON,
        sa_column_kwargs={"server_default": "{}"},
        nullable=False,
        description="for each column changed since the row was made: who, and when (ISO 8601, UTC)",
    )


@dataclass(frozen=True)
class Stamp:
    """Who changed something, and when; ``by`` is empty for the program itself."""

    by: str
    at: datetime


def latest(stamps: Iterable[Stamp | None]) -> Stamp | None:
    """The last of some changes; None where there was none."""
    return max((each for each in stamps if each is not None), key=lambda each: each.at, default=None)


def stamp_of(row: Versioned, *columns: str) -> Stamp | None:
    """Who changed one of the columns last (without any named: anything), and when; None where nobody did."""
    wanted = columns or tuple(row.touched)
    noted = (row.touched.get(name) for name in wanted)
    return latest(Stamp(each[0], datetime.fromisoformat(each[1])) for each in noted if each is not None)


@event.listens_for(Mapper, "instrument_class")
def _count_versions(mapper: Mapper[Any], class_: type[Any]) -> None:
    """Have SQLAlchemy check and raise ``row_version`` with every UPDATE of a versioned table."""
    if issubclass(class_, Versioned) and mapper.local_table is not None:
        mapper.version_id_col = mapper.local_table.c.row_version


@event.listens_for(Session, "before_flush")
def _note_changes(session: Session, _context: Any, _instances: Any) -> None:
    """Write into each changed row who changed which of its columns, and when."""
    note = [who_acts() or "", now().isoformat(timespec="seconds")]
    for row in session.dirty:
        if not isinstance(row, Versioned):
            continue
        changed = _changed_columns(row)
        if changed:
            row.touched = {**(row.touched or {}), **dict.fromkeys(changed, note)}
            flag_modified(row, "touched")


def _changed_columns(row: Versioned) -> list[str]:
    state = inspect(row)
    changed = []
    for attribute in state.mapper.column_attrs:
        if attribute.key in OWN_COLUMNS or attribute.key not in state.dict:
            continue
        history = state.attrs[attribute.key].history
        if history.has_changes() and list(history.added) != list(history.deleted or ()):
            changed.append(attribute.key)
    return changed
