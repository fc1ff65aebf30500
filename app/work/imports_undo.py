"""Undoing a whole import: what nobody has touched since goes back, the rest is named and stays."""

from __future__ import annotations

from datetime import date

from app.core.errors import FullcountError
from app.storage.columns import now
from app.storage.imports import (
    ImportedRow,
    PatientImport,
    patients_by_id,
    remove_patients,
    rows_of,
    touched_tables,
    withdraw_images,
)
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.work.actor import DESK, Actor, require
from app.work.imports_check import KEPT
from app.work.imports_confirm import usual_columns
from app.work.patients import folded
from app.work.recall_recompute import recompute_many

DERIVED = frozenset({"recall_item", "correction"})
"""Written by the program itself: not a sign of its own that somebody touched the patient."""

TABLE_WORDS = {
    "series": "has a series",
    "appointment": "has an appointment",
    "caries_risk": "has a caries risk on record",
    "recall_prescription": "has a prescription",
    "recall_hold": "is on hold",
    "outside_images": "has images from elsewhere recorded by hand",
    "contact_note": "was contacted",
    "recall_booking": "is booked",
    "imported_row": "is in a later import",
    "patient_merge": "was merged with another record",
    "patient": "stands for a merged record",
    "correction": "was corrected",
    "retention_hold": "is kept by a hold",
    "erasure": "was to be erased",
}


def undo_import(scope: PracticeScope, actor: Actor, import_id: str, *, today: date) -> PatientImport:
    """Take a whole import back.

    Patients that it made are removed, unless somebody has corrected or charted them or recorded anything for them
    since; patients that it changed get back what stood there, unless somebody has changed it since. A patient with
    a series is never removed. What is left stands in the import's rows with the reason.
    """
    require(actor, DESK, "undo imports")
    row = scope.get(PatientImport, import_id, "import")
    if row.status != "imported":
        raise FullcountError(f'The file "{row.file_name}" is {row.status}, so there is nothing to undo')
    made_on = row.imported_on or today
    rows = rows_of(scope, import_id)
    patients = patients_by_id(scope, (each.patient_id for each in rows if each.patient_id))
    touched = touched_tables(scope, import_id, derived=DERIVED)
    removed: list[str] = []
    put_back: list[str] = []
    for each in rows:
        patient = patients.get(each.patient_id or "")
        if patient is None:
            each.outcome = "removed"
            continue
        each.reason = _why_left(each, patient, touched.get(patient.id, set()), made_on)
        if each.reason:
            each.outcome = "left"
        elif each.kind == "new":
            each.outcome = "removed"
            removed.append(patient.id)
        else:
            each.outcome = "put_back"
            _put_back(patient, each)
            put_back.append(patient.id)
    scope.because("an import was undone")
    scope.session.flush()
    withdraw_images(scope, import_id, put_back, actor.staff_id)
    remove_patients(scope, removed, with_rows_of=("recall_item", "outside_images"))
    row.status, row.undone_by, row.undone_at = "undone", actor.staff_id, now()
    left = sum(each.outcome == "left" for each in rows)
    row.counts = row.counts | {"removed": len(removed), "put_back": len(put_back), "left": left}
    scope.session.flush()
    recompute_many(scope, put_back, today)
    return row


def _why_left(row: ImportedRow, patient: Patient, tables: set[str], made_on: date) -> str:
    """Why the patient stays as is; empty where nobody has touched what the import did."""
    reasons = []
    fields = [key for key, value in row.after.items() if str(getattr(patient, key)) != value]
    if row.kind == "new":
        fields += [key for key in KEPT if key not in row.after and getattr(patient, key) != ""]
        if patient.chart_number != row.chart_number:
            fields.append("chart_number")
        if any(
            getattr(patient, key) != value for key, value in usual_columns(patient.birth_date, made_on).items()
        ):
            reasons.append("the chart was edited")
        reasons += [TABLE_WORDS.get(name, f"has {name.replace('_', ' ')}") for name in sorted(tables)]
    elif "patient_merge" in tables:
        reasons.append(TABLE_WORDS["patient_merge"])
    if fields:
        reasons.insert(0, f"corrected since: {', '.join(key.replace('_', ' ') for key in fields)}")
    return "; ".join(reasons)


def _put_back(patient: Patient, row: ImportedRow) -> None:
    for key, value in row.before.items():
        setattr(patient, key, date.fromisoformat(value) if key == "birth_date" else value)
    patient.sought_as = folded(f"{patient.name} {patient.chart_number}")
