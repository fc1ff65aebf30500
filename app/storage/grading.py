"""Samples graded a second time, blind to the first reading, and the collimation of each room."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, moment_field, moment_or_none


class GradingSample(Row, table=True):
    """One random sample of exposures, with all that is needed to draw it again."""

    __tablename__ = "grading_sample"
    __table_args__ = (CheckConstraint("method in ('simple', 'by_operator')", name="method_known"),)

    from_day: date
    to_day: date = Field(description="last day of the period, counted in")
    scheme: str = Field(description="id of the published grading scheme")
    method: str = Field(description="simple: every exposure alike; by_operator: the same share of each operator's")
    size: int
    seed: str = Field(description="text that, with the exposures' ids, gives the order of the draw")
    pool_count: int = Field(description="exposures that could have been drawn")
    pool_digest: str = Field(description="SHA-256 of their ids, sorted, one a line")
    drawn_by: str = Field(foreign_key="staff.id")
    drawn_at: datetime = moment_field(index=True)


class GradingItem(Row, table=True):
    """One drawn exposure: the first grade as it stood at the draw, and the second reading once it is made."""

    __tablename__ = "grading_item"
    __table_args__ = (UniqueConstraint("sample_id", "position"), UniqueConstraint("sample_id", "exposure_id"))

    sample_id: str = Field(foreign_key="grading_sample.id", index=True)
    position: int = Field(description="order of reading, from 1")
    exposure_id: str = Field(foreign_key="exposure.id")
    first_grade: str
    first_reader: str = Field(foreign_key="staff.id")
    first_read_at: datetime = moment_field()
    second_grade: str | None = Field(default=None, nullable=True)
    second_reader: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    second_read_at: datetime | None = moment_or_none()


class CollimationChoice(Row, table=True):
    """What limits the beam: of one room, or of the practice where no room is named."""

    __tablename__ = "collimation_choice"
    __table_args__ = (
        UniqueConstraint("practice_id", "room_id"),
        CheckConstraint("collimation in ('rectangular', 'round')", name="collimation_known"),
    )

    room_id: str | None = Field(default=None, foreign_key="room.id", nullable=True)
    collimation: str = Field(description="rectangular or round")
    chosen_by: str = Field(foreign_key="staff.id")
    chosen_at: datetime = moment_field()
