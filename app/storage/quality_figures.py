"""What the quality review counts, kept beside the rows that it is counted from.

`QualityFact` says of one exposure, and `QualityCase` of one closed series, what the review counts; `QualityCell`
holds their sums by month and by day. Triggers of the database put a `QualityMark` on a series whenever a row that
its figures hang on is written, by whatever part of the program; `app.work.quality_refresh` counts marked series
anew. So the sums never disagree with the rows, and can be thrown away and built again.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row


class QualityMark(Row, table=True):
    """A series whose figures are stale. Each writing transaction leaves its own mark, so that none is lost."""

    __tablename__ = "quality_mark"

    series_id: str = Field(foreign_key="series.id", index=True)


class QualityFact(Row, table=True):
    """One counted exposure; its id is the exposure's."""

    __tablename__ = "quality_fact"
    __table_args__ = (Index("ix_quality_fact_practice_id_month", "practice_id", "month"),)

    series_id: str = Field(foreign_key="series.id", index=True)
    day: date = Field(description="day it was taken, UTC")
    month: date = Field(description="first of that month")
    operator_id: str
    room_id: str = ""
    receptor_id: str = ""
    template_key: str
    slot: str = ""
    region: str = Field(default="", description="projection of the slot, else its kind; empty without a slot")
    age_group: str
    reviewed: bool = False
    faultless: bool = False
    non_diagnostic: bool = False
    retaken: bool = False
    repeats: bool = Field(default=False, description="it is itself a retake")
    avoidable: bool = Field(default=False, description="it was retaken although nothing was missing any more")
    retake_reason: str = Field(default="", description="code for which it was retaken")
    lost_codes: str = Field(default="", description="codes that took something from it: ,overlap,cone_cut,")


class QualityCase(Row, table=True):
    """One closed series; its id is the series'."""

    __tablename__ = "quality_case"
    __table_args__ = (Index("ix_quality_case_practice_id_month", "practice_id", "month"),)

    day: date = Field(description="day it was closed, UTC")
    month: date
    operator_id: str = Field(description="who started it")
    room_id: str = ""
    template_key: str
    age_group: str
    incomplete: bool = Field(description="closed although reviewed images left gaps")
    retakes_missed: int = Field(description="exposures that would have closed them")
    plan_count: int = Field(description="retakes that the smallest plan asked for after the first pass")
    every_fault_count: int = Field(description="retakes of every faulty or missing view instead")


class QualityCell(Row, table=True):
    """Sums of one operator, one value of one dimension, and one month or day."""

    __tablename__ = "quality_cell"
    __table_args__ = (
        # Named by hand: the usual name would be longer than PostgreSQL takes.
        UniqueConstraint(
            "practice_id", "grain", "dimension", "start", "operator_id", "value", name="uq_quality_cell_key"
        ),
        CheckConstraint("grain in ('month', 'day')", name="grain_known"),
    )

    grain: str = Field(max_length=8)
    dimension: str = Field(max_length=24)
    start: date
    operator_id: str
    value: str
    exposures: int = 0
    reviewed: int = 0
    faultless: int = 0
    non_diagnostic: int = 0
    retaken: int = 0
    repeats: int = 0
    avoidable: int = 0
    closed: int = 0
    incomplete: int = 0
    retakes_missed: int = 0
    plan_count: int = 0
    every_fault_count: int = 0


SUMS = (
    "exposures",
    "reviewed",
    "faultless",
    "non_diagnostic",
    "retaken",
    "repeats",
    "avoidable",
    "closed",
    "incomplete",
    "retakes_missed",
    "plan_count",
    "every_fault_count",
)
"""The columns of a cell that are summed, in this order wherever they stand in a row."""
