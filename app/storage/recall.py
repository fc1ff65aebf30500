"""Recall radiographs: policies, risks, prescriptions, holds, images from elsewhere, contacts, and the work list.

`RecallItem` is worked out from all the others (`app.work.recall_recompute`) and kept, so that the list of a large
practice is one look into an index. Only who has claimed a row stands nowhere else.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from app.storage.columns import Row, json_field, moment_field, moment_or_none
from app.storage.versions import Versioned


class RecallPolicy(Row, table=True):
    """A table of intervals as the practice chose it, perhaps edited; the one kept last is in force."""

    __tablename__ = "recall_policy"

    key: str = Field(description="id of the published table that it was copied from")
    title: str
    body: dict[str, Any] = json_field(dict)
    edited: bool = Field(default=False, description="whether the practice changed what was published")
    chosen_on: date
    kept_by: str = Field(foreign_key="staff.id")
    kept_at: datetime = moment_field()


class CariesRisk(Row, table=True):
    """A patient's caries risk as assessed on a day; the newest counts, the earlier ones stay."""

    __tablename__ = "caries_risk"
    __table_args__ = (CheckConstraint("level in ('low', 'moderate', 'high')", name="level_known"),)

    patient_id: str = Field(foreign_key="patient.id", index=True)
    level: str = Field(description="low, moderate or high")
    reasons: list[Any] = json_field(list)
    assessed_on: date
    assessed_by: str = Field(foreign_key="staff.id")
    recorded_at: datetime = moment_field()


class RecallPrescription(Row, Versioned, table=True):
    """What a dentist prescribed for one patient: an interval or a day, with reason and end. Never deleted."""

    __tablename__ = "recall_prescription"
    __table_args__ = (
        CheckConstraint("kind in ('bitewings', 'full_series')", name="kind_known"),
        CheckConstraint("(interval_months is null) <> (due_on is null)", name="interval_or_day"),
    )

    patient_id: str = Field(foreign_key="patient.id", index=True)
    kind: str = Field(description="bitewings or full_series")
    interval_months: int | None = Field(default=None, nullable=True)
    due_on: date | None = Field(default=None, nullable=True)
    reason: str
    prescribed_by: str = Field(foreign_key="staff.id")
    prescribed_on: date
    ends_on: date = Field(description="last day on which it holds")
    recorded_at: datetime = moment_field()
    withdrawn_at: datetime | None = moment_or_none()
    withdrawn_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)


class RecallHold(Row, Versioned, table=True):
    """Why a patient is not called, from a day until a day or until lifted."""

    __tablename__ = "recall_hold"
    __table_args__ = (
        CheckConstraint("kind in ('declined', 'transferred', 'dentist', 'pregnancy')", name="kind_known"),
    )

    patient_id: str = Field(foreign_key="patient.id", index=True)
    kind: str = Field(description="declined, transferred, dentist or pregnancy")
    from_on: date
    until_on: date | None = Field(default=None, nullable=True, description="last day; None until lifted")
    note: str = ""
    placed_by: str = Field(foreign_key="staff.id")
    placed_at: datetime = moment_field()
    lifted_at: datetime | None = moment_or_none()
    lifted_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)


class OutsideImages(Row, Versioned, table=True):
    """Radiographs taken elsewhere, or before this program: what they were and when. Withdrawn, never deleted."""

    __tablename__ = "outside_images"
    __table_args__ = (
        CheckConstraint("kind in ('bitewings', 'full_series')", name="kind_known"),
        CheckConstraint("sides in ('both', 'right', 'left')", name="sides_known"),
    )

    patient_id: str = Field(foreign_key="patient.id", index=True)
    kind: str = Field(description="bitewings or full_series")
    sides: str = Field(default="both", description="sides that its bitewings show: both, right or left")
    diagnostic: bool = True
    taken_on: date
    origin: str = Field(default="", description="where they come from, in words")
    import_id: str = Field(default="", index=True, description="the import that brought them; empty by hand")
    recorded_by: str = Field(foreign_key="staff.id")
    recorded_at: datetime = moment_field()
    withdrawn_at: datetime | None = moment_or_none()
    withdrawn_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)


class ContactNote(Row, table=True):
    """One attempt to reach a patient, and what came of it."""

    __tablename__ = "contact_note"
    __table_args__ = (
        CheckConstraint(
            "outcome in ('reached', 'message', 'booked', 'declined', 'wrong_number', 'letter')",
            name="outcome_known",
        ),
    )

    patient_id: str = Field(foreign_key="patient.id", index=True)
    outcome: str = Field(description="reached, message, booked, declined, wrong_number or letter")
    note: str = ""
    next_try_on: date | None = Field(default=None, nullable=True)
    made_by: str = Field(foreign_key="staff.id")
    made_at: datetime = moment_field()


class RecallBooking(Row, table=True):
    """That an appointment for recall radiographs is booked; ended when it is cancelled or moved."""

    __tablename__ = "recall_booking"

    patient_id: str = Field(foreign_key="patient.id", index=True)
    appointment_id: str = Field(index=True, max_length=64)
    day: date = Field(description="the practice's own calendar day")
    noted_by: str = Field(foreign_key="staff.id")
    noted_at: datetime = moment_field()
    ended_at: datetime | None = moment_or_none()


_FILTERED = ("overdue_on", "kind", "preferred_contact", "next_try_on")


class RecallItem(Row, table=True):
    """One line of the work list; every patient has one of bitewings or review, and one of a prescribed series."""

    __tablename__ = "recall_item"
    __table_args__ = (
        UniqueConstraint("patient_id", "kind"),
        CheckConstraint("kind in ('bitewings', 'full_series', 'review')", name="kind_known"),
        CheckConstraint("state in ('open', 'booked', 'held', 'none')", name="state_known"),
        # Each holds what a filter asks and the whole order: a page far back reads one index and no row.
        Index("ix_recall_item_due", "practice_id", "state", "due_on", "id", *_FILTERED, "risk_rank"),
        Index("ix_recall_item_risk", "practice_id", "state", "risk_rank", "due_on", "id", *_FILTERED),
        Index("ix_recall_item_contact", "practice_id", "state", "last_contact_at", "due_on", "id", *_FILTERED),
        Index("ix_recall_item_practice_patient", "practice_id", "patient_id"),
        Index("ix_recall_item_stale", "practice_id", "valid_until"),
    )

    patient_id: str = Field(foreign_key="patient.id", index=True)
    kind: str = Field(description="bitewings, full_series or review (a date for the dentist to decide)")
    last_on: date | None = Field(default=None, nullable=True, description="the images that it counts from")
    earliest_on: date | None = Field(default=None, nullable=True, description="earliest sensible day")
    due_on: date | None = Field(default=None, nullable=True)
    overdue_on: date | None = Field(default=None, nullable=True, description="last day before it is overdue")
    basis: str = Field(description="prescription, table or none")
    source: str = Field(default="", description="id of the prescription or of the policy; empty for none")
    because: str = Field(default="", description="code of the reason, see app.core.recall.due.REASONS")
    condition: str = Field(default="", description="what the table asks besides, like: if contacts are closed")
    risk: str = Field(default="", description="high, moderate, low or empty")
    risk_rank: int = Field(default=3, description="0 high, 1 moderate, 2 low, 3 not on record")
    state: str = Field(description="open, booked, held or none (nothing is proposed by the calendar)")
    held_for: str = Field(default="", description="kind of the hold where state is held")
    booked_on: date | None = Field(default=None, nullable=True)
    appointment_id: str = Field(default="", max_length=64)
    preferred_contact: str = ""
    last_outcome: str = ""
    last_contact_at: datetime | None = moment_or_none()
    next_try_on: date | None = Field(default=None, nullable=True)
    valid_until: date = Field(description="last day on which this line is still right if nobody does anything")
    claimed_by: str | None = Field(default=None, foreign_key="staff.id", nullable=True)
    claimed_at: datetime | None = moment_or_none()
