"""The quality record: annotations, the grading scheme chosen, reports signed, readings of each receptor."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import Index, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, moment_or_none
from app.storage.versions import Versioned


class QualityNote(Row, Versioned, table=True):
    """What happened on a day that may explain a change: a new sensor, a training. Withdrawn, never deleted."""

    __tablename__ = "quality_note"

    day: date = Field(index=True)
    text: str
    written_by: str = Field(foreign_key="staff.id")
    written_at: datetime = moment_field()
    withdrawn_at: datetime | None = moment_or_none()


class ChosenScheme(Row, table=True):
    """The grading scheme that the practice holds itself to from a day on; earlier choices stay."""

    __tablename__ = "chosen_scheme"

    scheme_id: str = Field(description="id of a published scheme; empty for none")
    own_targets: dict[str, Any] = json_field(dict)
    reason: str = ""
    from_day: date = Field(index=True)
    chosen_by: str = Field(foreign_key="staff.id")
    chosen_at: datetime = moment_field()


class SignedReport(Row, table=True):
    """A quality report as it was signed: its figures, and the digest of the file that was handed out."""

    __tablename__ = "signed_report"

    first: date = Field(description="first day of the period")
    last: date = Field(description="last day of the period, counted in")
    figures: dict[str, Any] = json_field(dict)
    pdf_sha256: str = Field(max_length=64)
    signed_by: str = Field(foreign_key="staff.id")
    signed_at: datetime = moment_field(index=True)


class ReceptorReading(Row, table=True):
    """What one image says of its receptor and the exposure setting."""

    __tablename__ = "receptor_reading"
    __table_args__ = (
        UniqueConstraint("exposure_id"),
        Index("ix_receptor_reading_receptor_id_taken_at", "receptor_id", "taken_at"),
    )

    exposure_id: str = Field(foreign_key="exposure.id")
    receptor_id: str = Field(foreign_key="receptor.id")
    taken_at: datetime = moment_field()
    air_grey: float | None = Field(default=None, nullable=True, description="share of the grey range, 0 black")
    enamel_grey: float | None = Field(default=None, nullable=True, description="share of the grey range, 0 black")
    noise: float | None = Field(default=None, nullable=True, description="share of the grey range")
    sharpness: float | None = Field(
        default=None, nullable=True, description="width of the sharpest edges, thousandths of the long side"
    )
