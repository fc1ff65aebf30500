"""Appointments, the hours of the rooms, days on which they are closed, and the addresses of feeds."""

from __future__ import annotations

from datetime import date, datetime, time

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, UtcDateTime, moment_field, moment_or_none
from app.storage.versions import Versioned


class Appointment(Row, Versioned, table=True):
    """An agreed time of a patient in a room. Two that are booked never overlap in a room: a trigger refuses it."""

    __tablename__ = "appointment"
    __table_args__ = (
        CheckConstraint("status in ('booked', 'kept', 'missed', 'cancelled')", name="status_known"),
        CheckConstraint("ends_at > starts_at", name="ends_after_it_starts"),
        # The calendar and the search for free times ask by time; the forecast sums minutes without the rows.
        Index("ix_appointment_time", "practice_id", "status", "starts_at", "room_id", "minutes"),
        Index("ix_appointment_room_time", "room_id", "starts_at", "ends_at"),
    )

    patient_id: str = Field(foreign_key="patient.id", index=True)
    room_id: str = Field(foreign_key="room.id")
    starts_at: datetime = Field(sa_type=UtcDateTime, nullable=False)
    ends_at: datetime = Field(sa_type=UtcDateTime, nullable=False)
    minutes: int = Field(description="length, minutes")
    purpose: str = Field(description="id of the template to be taken, or review")
    status: str = Field(default="booked", description="booked, kept, missed or cancelled")
    booked_by: str = Field(foreign_key="staff.id")
    booked_at: datetime = moment_field()
    recall_item_id: str | None = Field(default=None, nullable=True, index=True)
    reason: str = Field(default="", description="why it was cancelled")
    changed_at: datetime = moment_field()
    version: int = Field(default=1, description="counts every change")


class RoomHours(Row, table=True):
    """When a room is open on a weekday, on the clock of the practice; several spans make a lunch break."""

    __tablename__ = "room_hours"
    __table_args__ = (
        CheckConstraint("weekday between 0 and 6", name="weekday_known"),
        CheckConstraint("closes > opens", name="closes_after_it_opens"),
    )

    room_id: str = Field(foreign_key="room.id", index=True)
    weekday: int = Field(description="0 Monday to 6 Sunday")
    opens: time
    closes: time


class ClosedDay(Row, table=True):
    """A day on which a room, or without a room the whole practice, is closed."""

    __tablename__ = "closed_day"
    __table_args__ = (Index("ix_closed_day_practice_day", "practice_id", "day"),)

    day: date
    room_id: str | None = Field(default=None, foreign_key="room.id", nullable=True)
    reason: str = ""


class BookingSettings(Row, Versioned, table=True):
    """What the practice has chosen for its calendar."""

    __tablename__ = "booking_settings"
    __table_args__ = (
        UniqueConstraint("practice_id"),
        CheckConstraint("recall_share between 1 and 100", name="recall_share_is_a_share"),
    )

    time_zone: str = Field(default="UTC", description="IANA name of the zone whose clock hangs in the practice")
    recall_share: int = Field(default=100, description="share of the opening hours open to recalls, per cent")
    recall_minutes: int = Field(default=20, description="minutes that the forecast counts for one recall")


class FeedAddress(Row, table=True):
    """A secret address under which a person's calendar program reads the appointments; only its hash is kept."""

    __tablename__ = "feed_address"
    __table_args__ = (UniqueConstraint("secret_hash"),)

    staff_id: str = Field(foreign_key="staff.id", index=True)
    secret_hash: str = Field(max_length=64, description="SHA-256 of the secret, hexadecimal")
    shows_names: bool = False
    made_at: datetime = moment_field()
    revoked_at: datetime | None = moment_or_none()
