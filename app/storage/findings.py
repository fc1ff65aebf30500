"""What was measured on each image, what the program found, and what people made of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, moment_or_none
from app.storage.versions import Versioned


class ImageMeasure(Row, table=True):
    """The measurements of one image file, and the signature by which copies of it are found.

    A search looks through all signatures at once (app/storage/signatures.py).
    """

    __tablename__ = "image_measure"
    __table_args__ = (
        UniqueConstraint("image_id"),
        Index("ix_image_measure_measured_at", "practice_id", "measured_at", "signature"),
        Index("ix_image_measure_signature", "practice_id", "signature"),
    )

    image_id: str = Field(foreign_key="image.id")
    orientation: str
    inverted: bool = False
    measurements: dict[str, Any] = json_field(dict)
    comparable: bool = Field(default=True, description="False for an even picture, which is like every other")
    signature: int = Field(sa_type=BigInteger, description="64 signs, as a signed number")
    coarse: bytes = Field(description="16 x 16 signed bytes: the picture, coarsely; orders what the search finds")
    measured_at: datetime = moment_field()


class FindingRow(Row, Versioned, table=True):
    """One thing seen in an exposure, and a person's decision on it; pixels are those of the file as decoded."""

    __tablename__ = "finding"
    __table_args__ = (
        UniqueConstraint("exposure_id", "number"),
        CheckConstraint("severity in ('note', 'warning', 'fail')", name="severity_known"),
        CheckConstraint("decision in ('open', 'accepted', 'changed', 'dismissed')", name="decision_known"),
    )

    exposure_id: str = Field(foreign_key="exposure.id", index=True)
    number: int = Field(description="gravest first, from 1")
    code: str = Field(index=True)
    severity: str
    score: float
    confidence: float | None = Field(default=None, nullable=True, description="0 to 1")
    message: str
    box: list[Any] = json_field(list)
    outline: list[Any] = json_field(list)
    proposes: str | None = Field(default=None, nullable=True, description="shortfall code that it would be")
    decision: str = "open"
    chosen: str | None = Field(default=None, nullable=True, description="shortfall code that the person chose")
    chosen_targets: list[Any] = json_field(list)
    decided_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    decided_at: datetime | None = moment_or_none()


class ReceptorThreshold(Row, table=True):
    """A threshold that a dentist set for one receptor, with why; the latest counts, earlier ones stay."""

    __tablename__ = "receptor_threshold"

    receptor_id: str = Field(foreign_key="receptor.id", index=True)
    name: str = Field(description="of the threshold, like blurred.warning")
    value: float | None = Field(default=None, nullable=True, description="None: the usual one again")
    reason: str
    set_by: str = Field(foreign_key="staff.id")
    set_at: datetime = moment_field()
