"""The tables of the trail. Entries are only ever put in: triggers of the database refuse anything else.

They name people, patients and series by id without a foreign key: an entry outlives whatever it tells of.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, Text
from sqlmodel import Field, SQLModel

from app.core.trail import BEGINNING, KINDS, Entry
from app.storage.columns import UtcDateTime

_KNOWN = ", ".join(f"'{kind}'" for kind in KINDS)


class TrailEntry(SQLModel, table=True):
    """One entry, see `app.core.trail.Entry`."""

    __tablename__ = "trail_entry"
    __table_args__ = (CheckConstraint(f"kind in ({_KNOWN})", name="kind_known"),)

    number: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    practice_id: str = Field(max_length=64)
    at: datetime = Field(sa_type=UtcDateTime, nullable=False, index=True)
    who: str = Field(index=True)
    acting_as: str
    from_where: str
    request_id: str
    kind: str = Field(index=True)
    what: str
    patient_id: str = Field(index=True)
    series_id: str
    details: str = Field(sa_type=Text, description="JSON, as it was hashed")
    previous: str = Field(max_length=64)
    hash: str = Field(max_length=64)


class TrailHead(SQLModel, table=True):
    """The last entry's number, hash and moment, in one row that a trigger moves: a tail cut off shows here."""

    __tablename__ = "trail_head"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    number: int
    hash: str = Field(max_length=64)
    at: datetime | None = Field(default=None, sa_type=UtcDateTime, nullable=True)


FIELDS = tuple(name for name in Entry.__dataclass_fields__)
"""Columns of an entry that are hashed."""

FIRST_HEAD = {"id": 1, "number": 0, "hash": BEGINNING, "at": None}


def entry_of(row: Any) -> Entry:
    """A row of the table, or of a query of its columns, as the core knows it."""
    return Entry(**{name: getattr(row, name) for name in FIELDS})
