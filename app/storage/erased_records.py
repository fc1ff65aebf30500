"""Nothing new is written on a record that was erased, by whatever use case: it would name somebody again."""

from __future__ import annotations

from typing import Any

from sqlalchemy import event
from sqlmodel import Session

from app.core.errors import FullcountError
from app.storage.people import Patient


class RecordErased(FullcountError):
    """The record was erased: the person is registered anew instead."""

    def __init__(self) -> None:
        super().__init__("this record was erased, so nothing new goes on it. Register the person anew")


def keep_erased(session: Session) -> None:
    """Have a session refuse rows of patients who were erased."""
    event.listen(session, "before_flush", _on_flush)


def _on_flush(session: Session, _context: Any, _instances: Any) -> None:
    with session.no_autoflush:
        for row in session.dirty:
            if isinstance(row, Patient) and row.erased_at is not None and session.is_modified(row):
                raise RecordErased
        for row in session.new:
            patient_id = getattr(row, "patient_id", None)
            patient = session.get(Patient, patient_id) if isinstance(patient_id, str) else None
            if patient is not None and patient.erased_at is not None:
                raise RecordErased
