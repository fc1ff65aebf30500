"""What log-ins need beside the session: machines that know people, PINs, second factors, failed tries."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from app.storage.columns import Row, UtcDateTime, moment_field, moment_or_none, now


class HalfLogIn(Row, table=True):
    """A right password that still waits for its code; its id is the SHA-256 of the token in the cookie."""

    __tablename__ = "half_log_in"

    staff_id: str = Field(foreign_key="staff.id", index=True)
    created_at: datetime = moment_field()
    tries: int = 0
    ended_at: datetime | None = moment_or_none()


class MachinePerson(Row, table=True):
    """A person who logged in wholly at a machine; the machine is the SHA-256 of the token in its cookie."""

    __tablename__ = "machine_person"
    __table_args__ = (UniqueConstraint("machine", "staff_id"),)

    machine: str = Field(index=True)
    wrong_pins: int = Field(default=0, description="wrong PINs since the last right one or whole log-in")
    staff_id: str = Field(foreign_key="staff.id", index=True)
    full_at: datetime = moment_field()
    left_at: datetime | None = moment_or_none()


class StaffPin(Row, table=True):
    """A person's PIN for coming back at a machine that knows them."""

    __tablename__ = "staff_pin"
    __table_args__ = (UniqueConstraint("staff_id"),)

    staff_id: str = Field(foreign_key="staff.id")
    pin_hash: str
    set_at: datetime = moment_field()


class SecondFactor(Row, table=True):
    """A person's secret for one-time codes. It counts from its confirmation until it is switched off."""

    __tablename__ = "second_factor"
    __table_args__ = (UniqueConstraint("staff_id"),)

    staff_id: str = Field(foreign_key="staff.id")
    secret: str = Field(description="base 32; empty once it is switched off")
    last_step: int = Field(default=0, description="the newest time step whose code was taken")
    begun_at: datetime = moment_field()
    confirmed_at: datetime | None = moment_or_none()
    off_at: datetime | None = moment_or_none()
    off_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)


class RecoveryCode(Row, table=True):
    """One code for the day the telephone is lost; kept as its SHA-256, taken once."""

    __tablename__ = "recovery_code"

    staff_id: str = Field(foreign_key="staff.id", index=True)
    code_hash: str
    used_at: datetime | None = moment_or_none()


class TryCount(SQLModel, table=True):
    """Failed tries of one kind under one key. Belongs to no practice: nobody is logged in yet."""

    __tablename__ = "try_count"

    key: str = Field(primary_key=True, max_length=96)
    failures: int = 0
    last_at: datetime = Field(default_factory=now, sa_type=UtcDateTime, nullable=False, index=True)
