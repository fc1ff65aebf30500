"""What keeps the record honest and lets it end: corrections, merges, holds on erasing, erasures."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, moment_or_none


class Correction(Row, table=True):
    """One value that was recorded and is recorded otherwise now. Only ever added; erasing alone may empty it."""

    __tablename__ = "correction"
    __table_args__ = (CheckConstraint("(patient_id is null) <> (exposure_id is null)", name="of_one_thing"),)

    patient_id: str | None = Field(default=None, foreign_key="patient.id", index=True, nullable=True)
    exposure_id: str | None = Field(default=None, foreign_key="exposure.id", index=True, nullable=True)
    field: str = Field(description="column that was corrected; chart for the dentition chart as a whole")
    before: dict[str, Any] = json_field(dict)
    after: dict[str, Any] = json_field(dict)
    reason: str = ""
    made_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    made_at: datetime = moment_field(index=True)


class PatientMerge(Row, table=True):
    """Two records of one person made one: what was moved, what stood there before, and the undo."""

    __tablename__ = "patient_merge"

    kept_id: str = Field(foreign_key="patient.id", index=True)
    merged_id: str = Field(foreign_key="patient.id", index=True)
    fields: dict[str, Any] = json_field(dict)
    moved: dict[str, Any] = json_field(dict)
    stood: dict[str, Any] = json_field(dict)
    reason: str = ""
    merged_by: str = Field(foreign_key="staff.id")
    merged_at: datetime = moment_field(index=True)
    undone_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    undone_at: datetime | None = moment_or_none()
    stays: dict[str, Any] = json_field(dict)


class RetentionChoice(Row, table=True):
    """The rule by which the practice keeps records; the newest is in force, the earlier ones stay."""

    __tablename__ = "retention_choice"
    __table_args__ = (
        CheckConstraint("years_after_last >= 1", name="some_years"),
        CheckConstraint("until_age >= 0", name="age_known"),
    )

    key: str = Field(description="id of the published rule that it was taken from; own for one's own")
    title: str
    years_after_last: int = Field(description="full years after the last entry, at least")
    until_age: int = Field(default=0, description="and not before this birthday; 0 where age does not matter")
    reason: str = ""
    chosen_by: str = Field(foreign_key="staff.id")
    chosen_at: datetime = moment_field(index=True)


class RetentionHold(Row, table=True):
    """Why a record is kept beyond its term."""

    __tablename__ = "retention_hold"
    __table_args__ = (CheckConstraint("kind in ('dispute', 'request', 'research', 'other')", name="kind_known"),)

    patient_id: str = Field(foreign_key="patient.id", index=True)
    kind: str = Field(description="dispute, request, research or other")
    note: str = ""
    until_on: date | None = Field(default=None, nullable=True, description="last day; None until lifted")
    placed_by: str = Field(foreign_key="staff.id")
    placed_at: datetime = moment_field()
    lifted_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    lifted_at: datetime | None = moment_or_none()


class Erasure(Row, table=True):
    """An erasing that a dentist confirmed, and that somebody else carried out. Holds no identity."""

    __tablename__ = "erasure"

    patient_id: str = Field(foreign_key="patient.id", index=True)
    rule: str = Field(description="the rule in words, as it was applied")
    last_on: date = Field(description="last entry of the record")
    term_on: date = Field(description="first day on which it might be erased")
    confirmed_by: str = Field(foreign_key="staff.id")
    confirmed_at: datetime = moment_field()
    withdrawn_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    withdrawn_at: datetime | None = moment_or_none()
    carried_out_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    carried_out_at: datetime | None = moment_or_none()
    counts: dict[str, Any] = json_field(dict)
    files_left: list[Any] = json_field(list)
