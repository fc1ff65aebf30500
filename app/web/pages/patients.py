"""Patients: found, registered, corrected, and the page of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Patient
from app.storage.privacy import PatientMerge
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, ShownNumbering, StoreDep
from app.web.formatting import age_at
from app.web.notes import go_to
from app.web.pages.dentition import ChartView, chart_view
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.patients import seen_details
from app.work.actor import CHAIRSIDE, DENTISTS, DESK
from app.work.charts import chart_of
from app.work.correction_history import ShownCorrection, corrections_of_patient
from app.work.merge_lists import merges_of_patient
from app.work.news import version_of_patient
from app.work.patients import correct_patient, find_patients, register_patient
from app.work.retention import holds_in_force
from app.work.series_lists import ListedSeries, series_of_patient

router = APIRouter(include_in_schema=False)

FIELDS = ("chart_number", "name", "birth_date", "phone", "email", "preferred_contact")
CORRECTED = (*FIELDS, "reason")
MOST_CORRECTIONS = 5
MOST_FOUND = 50


@dataclass(frozen=True, kw_only=True)
class PatientLine:
    """A patient in a list."""

    id: str
    name: str
    chart_number: str
    birth_date: date
    age: int
    phone: str


@dataclass(frozen=True, kw_only=True)
class PatientsView(View):
    """Who was found; ``cut`` where there are more than shown."""

    words: str
    found: list[PatientLine]
    cut: bool
    may_start: bool
    may_exchange: bool
    may_keep: bool


@dataclass(frozen=True, kw_only=True)
class PatientFormView(View):
    """The form of a new or known patient, as typed."""

    action: str
    deed: str
    back: str
    values: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class PatientView(View):
    """One patient; ``chart`` only for those who work with images; ``version`` is what the page shows of them."""

    patient: PatientLine
    email: str
    preferred_contact: str
    chart: ChartView | None
    series: list[ListedSeries]
    may_start: bool
    version: str
    corrections: list[ShownCorrection]
    more_corrections: int
    merges: Sequence[PatientMerge]
    may_exchange: bool
    may_see_viewers: bool
    may_export: bool
    held: bool
    erased: bool


def line_of(patient: Patient) -> PatientLine:
    """The patient as a line."""
    return PatientLine(
        id=patient.id,
        name=patient.name,
        chart_number=patient.chart_number,
        birth_date=patient.birth_date,
        age=age_at(patient.birth_date, date.today()),
        phone=patient.phone,
    )


@router.get("/patients")
def show_patients(request: Request, scope: ReadingDep, actor: CurrentActor, q: str = "") -> Response:
    """Patients whose name or chart number holds the words; without words the first by name."""
    words = q.strip()[:200]
    found = find_patients(scope, words, limit=MOST_FOUND + 1)
    view = PatientsView(
        heading="Patients",
        words=words,
        found=[line_of(each) for each in found[:MOST_FOUND]],
        cut=len(found) > MOST_FOUND,
        may_start=actor.may(CHAIRSIDE),
        may_exchange=actor.may(DESK),
        may_keep=actor.may(DENTISTS),
    )
    return render(request, "pages/patients.html", view)


@router.get("/patients/new")
def show_registration(request: Request, q: str = "", then: str = "") -> Response:
    """The empty form; what was searched for stands where it belongs."""
    is_number = any(letter.isdigit() for letter in q)
    values = dict.fromkeys(FIELDS, "") | {"chart_number" if is_number else "name": q.strip()[:200]}
    return render(request, "pages/patient_form.html", _registration(values, then))


def _registration(values: dict[str, str], then: str, errors: tuple[FieldError, ...] = ()) -> PatientFormView:
    starting = then == "series"
    return PatientFormView(
        heading="New patient",
        errors=errors,
        action="/patients/new?then=series" if starting else "/patients/new",
        deed="Register and go on" if starting else "Register",
        back="/series/new" if starting else "/patients",
        values=values,
    )


@router.post("/patients/new")
def register(request: Request, actor: CurrentActor, store: StoreDep, form: Posted, then: str = "") -> Response:
    """A new patient; leads to their page, or on to the series that was to be started."""
    values = {name: form.text(name) for name in FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            patient_id = register_patient(scope, actor, **values, today=date.today()).id
    except InputError as error:
        view = _registration(values, then, errors_of(error, *FIELDS))
        return render(request, "pages/patient_form.html", view, status=422)
    if then == "series" and actor.may(CHAIRSIDE):
        return go_to(f"/series/new?patient={patient_id}", "registered")
    return go_to(f"/patients/{patient_id}", "registered")


@router.get("/patients/{patient_id}")
def show_patient(
    request: Request, patient_id: str, scope: ReadingDep, actor: CurrentActor, numbering: ShownNumbering
) -> Response:
    """Details, chart and series of one patient."""
    patient = scope.get(Patient, patient_id, "patient")
    sees_charts = actor.may(CHAIRSIDE)
    corrections = corrections_of_patient(scope, actor, patient.id)
    view = PatientView(
        heading=patient.name,
        patient=line_of(patient),
        email=patient.email,
        preferred_contact=patient.preferred_contact,
        chart=chart_view(chart_of(patient), numbering) if sees_charts else None,
        series=series_of_patient(scope, patient.id),
        may_start=sees_charts,
        version=version_of_patient(scope, patient),
        corrections=corrections[:MOST_CORRECTIONS],
        more_corrections=max(0, len(corrections) - MOST_CORRECTIONS),
        merges=merges_of_patient(scope, actor, patient.id),
        may_exchange=actor.may(DESK),
        may_see_viewers=actor.may(DENTISTS),
        may_export=actor.may(DENTISTS),
        held=bool(holds_in_force(scope, date.today(), patient.id)),
        erased=patient.erased_at is not None,
    )
    return render(request, "pages/patient.html", view)


@router.get("/patients/{patient_id}/edit")
def show_correction(request: Request, patient_id: str, scope: ReadingDep) -> Response:
    """The form with what is written now."""
    patient = scope.get(Patient, patient_id, "patient")
    values = {name: str(getattr(patient, name)) for name in FIELDS} | {"reason": ""}
    view = _correction(patient_id, values, opened_field(seen_details(patient)))
    return render(request, "pages/patient_form.html", view)


def _correction(
    patient_id: str, values: dict[str, str], opened: str, errors: tuple[FieldError, ...] = ()
) -> PatientFormView:
    return PatientFormView(
        heading="Correct patient",
        errors=errors,
        opened=opened,
        action=f"/patients/{patient_id}/edit",
        deed="Keep the correction",
        back=f"/patients/{patient_id}",
        values=values,
    )


@router.post("/patients/{patient_id}/edit")
def correct(request: Request, patient_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep what was corrected."""
    values = {name: form.text(name) for name in CORRECTED}
    try:
        with store.writing(actor.practice_id) as scope:
            seen = seen_details(scope.held(Patient, patient_id, "patient"))
            check_overtaken(scope, form, seen, back=f"/patients/{patient_id}/edit")
            correct_patient(scope, actor, patient_id, **values, today=date.today())
    except InputError as error:
        view = _correction(patient_id, values, form.text(OPENED), errors_of(error, *CORRECTED))
        return render(request, "pages/patient_form.html", view, status=422)
    return go_to(f"/patients/{patient_id}", "corrected")
