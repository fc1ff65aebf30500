"""Staff with their log-ins, and patients with their charts."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, moment_or_none
from app.storage.versions import Versioned


class Staff(Row, table=True):
    """A person who works in the practice. Never deleted: exposures name their operator."""

    __tablename__ = "staff"
    __table_args__ = (
        UniqueConstraint("login"),
        CheckConstraint("role in ('assistant', 'dentist', 'front_desk', 'administrator')", name="role_known"),
    )

    name: str
    login: str = Field(description="lower case; one person in the whole data folder")
    role: str = Field(description="assistant, dentist, front_desk or administrator")
    administers: bool = Field(default=False, description="administers the program beside that role")
    password_hash: str
    retired: bool = False
    created_at: datetime = moment_field()


class LoginSession(Row, table=True):
    """A log-in that is under way; its id is the SHA-256 of the random token in the cookie."""

    __tablename__ = "login_session"

    staff_id: str = Field(foreign_key="staff.id", index=True)
    csrf_token: str
    way: str = Field(default="password", description="password, code, pin or first_start")
    address: str = Field(default="", description="network address it began from")
    browser: str = Field(default="", description="in plain words")
    machine: str = Field(default="", description="SHA-256 of the machine's token; empty where it has none")
    created_at: datetime = moment_field()
    last_seen_at: datetime = moment_field()
    ended_at: datetime | None = moment_or_none()


class Patient(Row, Versioned, table=True):
    """A patient with the dentition chart as last edited."""

    __tablename__ = "patient"
    __table_args__ = (
        UniqueConstraint("practice_id", "chart_number"),
        CheckConstraint("dentition_kind in ('permanent', 'mixed', 'primary')", name="dentition_kind_known"),
    )

    chart_number: str
    name: str = Field(index=True)
    sought_as: str = Field(
        default="", description="name and chart number folded for searching: no accents, no case"
    )
    birth_date: date
    phone: str = ""
    email: str = ""
    preferred_contact: str = Field(default="", description="phone, email, letter, or empty")
    dentition_kind: str = "permanent"
    states: dict[str, Any] = json_field(dict)
    roots: dict[str, Any] = json_field(dict)
    closed_spaces: list[Any] = json_field(list)
    created_at: datetime = moment_field()
    merged_into: str | None = Field(
        default=None, foreign_key="patient.id", index=True, nullable=True, description="the record that goes on"
    )
    erased_at: datetime | None = moment_or_none()
