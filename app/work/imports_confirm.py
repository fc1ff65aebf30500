"""Carrying an import out: what was shown and confirmed, all of it or nothing."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from app.core.errors import FullcountError, InputError
from app.storage.columns import new_id, now
from app.storage.imports import ImportedRow, PatientImport, drop_staged, insert_many
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import OutsideImages
from app.work.actor import DESK, Actor, require
from app.work.charts import put_chart, usual_chart
from app.work.imports import plan_of
from app.work.imports_check import KEPT, RowPlan
from app.work.patients import folded
from app.work.recall_recompute import recompute_many

ORIGIN = "imported list"
CHART_COLUMNS = ("dentition_kind", "states", "roots", "closed_spaces")


class PlanChanged(FullcountError):
    """Since the page was shown, somebody changed patients that the file is about."""


def confirm_import(
    scope: PracticeScope, actor: Actor, import_id: str, *, fingerprint: str, today: date
) -> PatientImport:
    """Import what was shown, all of it or nothing.

    Parameters
    ----------
    fingerprint : of the plan that the person saw

    Raises
    ------
    PlanChanged
        Importing would now do something else.
    """
    require(actor, DESK, "import patients")
    staged, plan = plan_of(scope, actor, import_id, today=today)
    row = staged.row
    if plan.fingerprint != fingerprint:
        raise PlanChanged("Patients have changed since this page was shown. Look through it once more")
    if not plan.new and not plan.changed:
        raise InputError("", "there is nothing to import: every good line says what is on record already")
    done = [_new_patients(scope, plan.new, row, today), _changed_patients(scope, plan.changed, row)]
    images = [
        {
            "patient_id": patient_id,
            "kind": kind,
            "taken_on": day,
            "origin": ORIGIN,
            "import_id": row.id,
            "recorded_by": actor.staff_id,
        }
        for patient_id, planned in (pair for pairs in done for pair in pairs)
        for kind, day in planned.images
    ]
    insert_many(scope, OutsideImages, images)
    drop_staged(scope, row.id)
    row.status, row.imported_by, row.imported_at, row.imported_on = "imported", actor.staff_id, now(), today
    row.counts = {
        "new": len(plan.new),
        "changed": len(plan.changed),
        "unchanged": plan.unchanged,
        "bad": len(plan.bad),
        "images": len(images),
    }
    scope.session.add(row)
    scope.session.flush()
    recompute_many(scope, [patient_id for pairs in done for patient_id, _ in pairs], today)
    return row


Pairs = list[tuple[str, RowPlan]]


def _new_patients(scope: PracticeScope, plans: list[RowPlan], row: PatientImport, today: date) -> Pairs:
    """Put the new patients in, each with the chart that is usual for the age."""
    pairs = [(new_id(), plan) for plan in plans]
    patients = []
    for patient_id, plan in pairs:
        born = date.fromisoformat(plan.values["birth_date"])
        told = {key: plan.values.get(key, "") for key in KEPT}
        patients.append(
            told
            | usual_columns(born, today)
            | {
                "id": patient_id,
                "chart_number": plan.chart_number,
                "birth_date": born,
                "sought_as": folded(f"{told['name']} {plan.chart_number}"),
            }
        )
    insert_many(scope, Patient, patients)
    insert_many(scope, ImportedRow, [_done(row, pair, "new", {}, dict(pair[1].values)) for pair in pairs])
    return pairs


def _changed_patients(scope: PracticeScope, plans: list[RowPlan], row: PatientImport) -> Pairs:
    """Change what differs, and keep what stood there before."""
    pairs, journal = [], []
    scope.because("imported from a file")
    for plan in plans:
        patient = plan.patient
        assert patient is not None
        changes = plan.changes
        for key, _, value in changes:
            setattr(patient, key, date.fromisoformat(value) if key == "birth_date" else value)
        patient.sought_as = folded(f"{patient.name} {patient.chart_number}")
        scope.session.add(patient)
        pairs.append((patient.id, plan))
        before, after = {key: old for key, old, _ in changes}, {key: value for key, _, value in changes}
        journal.append(_done(row, pairs[-1], "changed", before, after))
    insert_many(scope, ImportedRow, journal)
    return pairs


def _done(
    row: PatientImport, pair: tuple[str, RowPlan], kind: str, before: dict[str, str], after: dict[str, str]
) -> dict[str, object]:
    """What the import did with one patient, as it is kept for the undo."""
    patient_id, plan = pair
    return {
        "import_id": row.id,
        "line": plan.line,
        "patient_id": patient_id,
        "chart_number": plan.chart_number,
        "kind": kind,
        "before": before,
        "after": after,
    }


def usual_columns(born: date, today: date) -> dict[str, object]:
    """The chart that is usual for the age, as columns of a patient."""
    age = today.year - born.year - ((today.month, today.day) < (born.month, born.day))
    return _usual_at(age, today)


@lru_cache(maxsize=256)
def _usual_at(age: int, today: date) -> dict[str, object]:
    blank = Patient(chart_number="", name="", birth_date=today)
    put_chart(blank, usual_chart(date(today.year - age, 1, 1), today))
    return {key: getattr(blank, key) for key in CHART_COLUMNS}
