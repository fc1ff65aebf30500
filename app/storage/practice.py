"""The practice, its rooms and receptors, and its own templates."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, new_id
from app.storage.versions import Versioned


class Practice(Versioned, table=True):
    """One practice and what it has chosen."""

    __tablename__ = "practice"

    id: str = Field(default_factory=new_id, primary_key=True, max_length=64)
    name: str
    numbering: str = Field(default="iso3950", description="designations shown: iso3950, universal or quadrant")
    posterior_contacts: str = Field(default="any", description="any or bitewing")
    bone_beyond_apex_mm: int = Field(default=2, description="bone asked for beyond an apex, mm: 2 or 3")
    upper_canine_lateral: str = Field(default="distal_half", description="distal_half or whole")
    exposure_orders: dict[str, Any] = json_field(dict)
    file_name_patterns: list[Any] = json_field(list)
    second_factor_asked: bool = Field(default=False, description="administrators must have a second factor")
    created_at: datetime = moment_field()


class Room(Row, Versioned, table=True):
    """A room with a tube."""

    __tablename__ = "room"

    name: str
    retired: bool = False


class Receptor(Row, Versioned, table=True):
    """A receptor of the practice: direct_sensor, phosphor_plate or film, of a nominal size 0 to 4."""

    __tablename__ = "receptor"

    name: str
    kind: str = Field(description="direct_sensor, phosphor_plate or film")
    size: int = Field(ge=0, le=4, description="nominal size, 0 to 4")
    retired: bool = False


class PracticeTemplate(Row, Versioned, table=True):
    """One version of a template that the practice copied and edited; earlier versions stay."""

    __tablename__ = "practice_template"
    __table_args__ = (UniqueConstraint("practice_id", "key", "version"),)

    key: str = Field(index=True, description="id under which it is chosen")
    title: str
    body: dict[str, Any] = json_field(dict)
    version: int = 1
    derived_from: str = Field(default="", description="id of the template that it was copied from")
    retired: bool = False
    edited_at: datetime = moment_field()
    edited_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
