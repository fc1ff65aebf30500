"""Series, their exposures and images, retakes ordered, and what closing them said."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, moment_or_none
from app.storage.versions import Versioned


class SeriesRow(Row, Versioned, table=True):
    """A series with its template and the patient's chart frozen as they were used."""

    __tablename__ = "series"
    __table_args__ = (CheckConstraint("status in ('open', 'closed')", name="status_known"),)

    patient_id: str = Field(foreign_key="patient.id", index=True)
    template: dict[str, Any] = json_field(dict)
    template_key: str
    policy: dict[str, Any] = json_field(dict)
    dentition: dict[str, Any] = json_field(dict)
    exempt: list[Any] = json_field(list)
    prescribed_by: str = Field(foreign_key="staff.id")
    reason: str = Field(description="why the dentist prescribed it")
    started_on: date = Field(index=True)
    started_by: str = Field(foreign_key="staff.id")
    room_id: str | None = Field(default=None, foreign_key="room.id", nullable=True)
    status: str = Field(default="open", index=True)
    version: int = Field(default=1, description="counts every change, for the pages that follow it")


class ImageRow(Row, table=True):
    """One image file of the store, named by its SHA-256, with how it came."""

    __tablename__ = "image"
    __table_args__ = (UniqueConstraint("practice_id", "sha256"),)

    sha256: str = Field(index=True, max_length=64)
    byte_count: int
    width: int = Field(description="pixels")
    height: int = Field(description="pixels")
    bits: int = Field(description="bits of a grey level as decoded: 8 or 16")
    format: str
    stored_at: datetime = moment_field()


class ExposureRow(Row, Versioned, table=True):
    """One exposure. Never deleted: it was radiation; a trigger of the database refuses a DELETE."""

    __tablename__ = "exposure"
    __table_args__ = (UniqueConstraint("series_id", "position"), UniqueConstraint("series_id", "image_id"))

    series_id: str = Field(foreign_key="series.id", index=True)
    position: int = Field(description="order in which it was made, from 1")
    slot: str | None = Field(default=None, nullable=True)
    image_id: str = Field(foreign_key="image.id", index=True)
    original_name: str
    operator_id: str = Field(foreign_key="staff.id", index=True)
    receptor_id: str | None = Field(default=None, foreign_key="receptor.id", nullable=True)
    room_id: str | None = Field(default=None, foreign_key="room.id", nullable=True)
    tube_kv: float | None = Field(default=None, nullable=True, description="tube voltage, kV")
    tube_ma: float | None = Field(default=None, nullable=True, description="tube current, mA")
    exposure_seconds: float | None = Field(default=None, nullable=True, description="exposure time, s")
    taken_at: datetime = moment_field(index=True)
    reviewed: bool = False
    reviewed_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    reviewed_at: datetime | None = moment_or_none()
    shortfalls: list[Any] = json_field(list)
    also_shows: list[Any] = json_field(list)
    retake_of: str | None = Field(default=None, foreign_key="exposure.id", nullable=True)
    retake_reason: str | None = Field(default=None, nullable=True, description="shortfall code that it repeats")
    view: dict[str, Any] = json_field(dict)
    set_aside_reason: str | None = Field(default=None, nullable=True)
    set_aside_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)


class RetakeOrder(Row, Versioned, table=True):
    """A retake authorised by a dentist: which slot, what it repeats, why, and whether it has been taken."""

    __tablename__ = "retake_order"

    series_id: str = Field(foreign_key="series.id", index=True)
    slot: str
    repeats: str | None = Field(default=None, foreign_key="exposure.id", nullable=True)
    reason: str
    advice: str = ""
    authorised_by: str = Field(foreign_key="staff.id")
    ordered_by: str = Field(foreign_key="staff.id")
    ordered_at: datetime = moment_field()
    fulfilled_by: str | None = Field(default=None, foreign_key="exposure.id", nullable=True)
    withdrawn_at: datetime | None = moment_or_none()


class SignOff(Row, table=True):
    """The closing of a series, with the audit as it stood then."""

    __tablename__ = "sign_off"
    __table_args__ = (UniqueConstraint("series_id"),)

    series_id: str = Field(foreign_key="series.id")
    verdict: str
    audit: dict[str, Any] = json_field(dict)
    closed_by: str = Field(foreign_key="staff.id")
    dentist_id: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    reason: str = ""
    closed_at: datetime = moment_field(index=True)
