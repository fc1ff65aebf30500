"""Column types and the parts that every table shares."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, MetaData
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, SQLModel

# Names for every constraint, so that migrations can change them on SQLite and PostgreSQL alike.
SQLModel.metadata.naming_convention = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
).naming_convention


class UtcDateTime(TypeDecorator[datetime]):
    """Moments in time, always aware and in UTC in Python (SQLite itself keeps no time zone)."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse moments without a zone; keep the rest as naive UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a moment without a time zone: {value!r}")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Say that what was kept is UTC."""
        return None if value is None else value.replace(tzinfo=UTC)


def new_id() -> str:
    """A random identifier, safe in an address."""
    return secrets.token_hex(8)


def now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)


def json_field(default: Any) -> Any:
    """A JSON column; ``default`` makes the value of a new row."""
    return Field(default_factory=default, sa_type=JSON, nullable=False)


def moment_field(**options: Any) -> Any:
    """A moment, now by default."""
    return Field(default_factory=now, sa_type=UtcDateTime, nullable=False, **options)


def moment_or_none() -> Any:
    """A moment that may not have come."""
    return Field(default=None, sa_type=UtcDateTime, nullable=True)


class Row(SQLModel):
    """What every table of a practice has: a random key and its practice."""

    id: str = Field(default_factory=new_id, primary_key=True, max_length=64)
    practice_id: str = Field(default="", foreign_key="practice.id", index=True, max_length=64, nullable=False)
