"""Corrections are written by the storage itself: whoever changes a watched column leaves what stood there before.

The hook sees every row that goes through a session, so no use case can forget it; statements in bulk go past it
and may not touch these columns (merging and erasing do, and keep their own account). What is recorded for the
first time is no correction: an empty value filled in, or a first review.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from sqlalchemy import event, inspect
from sqlmodel import Session, col, select

from app.storage.acting import who_acts
from app.storage.people import Patient
from app.storage.privacy import Correction
from app.storage.series import ExposureRow

PATIENT_FIELDS = ("chart_number", "name", "birth_date", "phone", "email", "preferred_contact")
CHART_FIELDS = ("dentition_kind", "states", "roots", "closed_spaces")
REVIEW_FIELDS = ("reviewed", "shortfalls", "also_shows")
EXPOSURE_FIELDS = (
    *("slot", "operator_id", "receptor_id", "room_id", "tube_kv", "tube_ma", "exposure_seconds", "taken_at"),
    *("set_aside_reason", *REVIEW_FIELDS),
)
"""The columns whose corrections are kept."""

CHART = "chart"
"""Stands for the four columns of the dentition chart, which are one thing to a person."""

_EMPTY: tuple[Any, ...] = (None, "", [], {})

Change = tuple[str, Any, Any]


def watch(session: Session) -> None:
    """Have a session write corrections in the transaction that makes them."""
    event.listen(session, "before_flush", _on_flush)


def because(session: Session, reason: str) -> None:
    """Say why what is corrected next in this transaction is corrected."""
    session.info["correction_reason"] = reason


def _on_flush(session: Session, _context: Any, _instances: Any) -> None:
    if session.info.get("uncorrected"):
        return
    with session.no_autoflush:
        for row in list(session.dirty):
            if isinstance(row, Patient):
                _write(session, row, _patient_changes(row), patient_id=row.id)
            elif isinstance(row, ExposureRow):
                _write(session, row, _exposure_changes(session, row), exposure_id=row.id)


def _write(
    session: Session,
    row: Patient | ExposureRow,
    changes: Iterator[Change],
    *,
    patient_id: str | None = None,
    exposure_id: str | None = None,
) -> None:
    for field, before, after in changes:
        session.add(
            Correction(
                practice_id=row.practice_id,
                field=field,
                before={"value": plain(before)},
                after={"value": plain(after)},
                reason=session.info.get("correction_reason", ""),
                made_by=who_acts(),
                patient_id=patient_id,
                exposure_id=exposure_id,
            )
        )


def plain(value: Any) -> Any:
    """The value as JSON holds it."""
    return value.isoformat() if isinstance(value, date | datetime) else value


def _changed(row: Patient | ExposureRow, field: str) -> tuple[Any, Any] | None:
    """What stood in a column and what stands there now; None where that is the same."""
    history = inspect(row).attrs[field].load_history()
    if not history.has_changes() or not history.deleted:
        return None
    before, after = history.deleted[0], getattr(row, field)
    return None if before == after else (before, after)


def _patient_changes(row: Patient) -> Iterator[Change]:
    for field in PATIENT_FIELDS:
        changed = _changed(row, field)
        if changed is not None and changed[0] not in _EMPTY:
            yield (field, *changed)
    chart = {field: _changed(row, field) for field in CHART_FIELDS}
    if any(chart.values()):
        before = {field: pair[0] if pair else getattr(row, field) for field, pair in chart.items()}
        yield CHART, before, {field: getattr(row, field) for field in CHART_FIELDS}


def _exposure_changes(session: Session, row: ExposureRow) -> Iterator[Change]:
    changes = [(field, pair) for field in EXPOSURE_FIELDS if (pair := _changed(row, field)) is not None]
    if not changes:
        return
    reviewed = _changed(row, "reviewed")
    was_reviewed = reviewed[0] if reviewed else row.reviewed
    known = None
    for field, (before, after) in changes:
        first = not was_reviewed if field in REVIEW_FIELDS else before in _EMPTY
        if first:
            # Filled in again after it had been emptied: the history goes on.
            if known is None:
                known = _corrected_before(session, row.id)
            first = not (known & set(REVIEW_FIELDS) if field in REVIEW_FIELDS else field in known)
        if not first:
            yield field, before, after


def _corrected_before(session: Session, exposure_id: str) -> set[str]:
    query = select(Correction.field).where(col(Correction.exposure_id) == exposure_id).distinct()
    return set(session.exec(query))
