"""Corrections: the history of a patient's record, and the page that corrects how an image was taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Patient, Staff
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, SeriesRow
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import CHAIRSIDE, DENTISTS
from app.work.audit_series import frozen_template
from app.work.correction_history import ShownCorrection, corrections_of_patient
from app.work.exposure_details import ExposureDetails, correct_exposure_details
from app.work.incoming import TubeSettings

router = APIRouter(include_in_schema=False)

TUBE = ("tube_kv", "tube_ma", "exposure_seconds")
FIELDS = ("operator", "receptor", *TUBE, "taken_at", "reason")


@dataclass(frozen=True, kw_only=True)
class CorrectionsView(View):
    """The history of one patient's record."""

    patient_id: str
    patient: str
    corrections: list[ShownCorrection]
    sees_images: bool


@dataclass(frozen=True, kw_only=True)
class DetailsView(View):
    """How an image was taken, as it stands or as typed.

    Parameters
    ----------
    refused : why the form is not shown; empty where it is
    """

    exposure_id: str
    series_id: str
    image: str
    values: dict[str, str]
    people: list[tuple[str, str]]
    receptors: list[tuple[str, str]]
    refused: str


@router.get("/patients/{patient_id}/corrections")
def show_corrections(request: Request, patient_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """What was corrected about a patient, the newest first."""
    patient = scope.get(Patient, patient_id, "patient")
    view = CorrectionsView(
        heading="History of corrections",
        patient_id=patient.id,
        patient=patient.name,
        corrections=corrections_of_patient(scope, actor, patient.id),
        sees_images=actor.may(CHAIRSIDE),
    )
    return render(request, "pages/corrections.html", view)


@router.get("/exposures/{exposure_id}/details")
def show_details(request: Request, exposure_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The form with what is written now."""
    exposure = scope.get(ExposureRow, exposure_id, "image")
    values = {
        "operator": exposure.operator_id,
        "receptor": exposure.receptor_id or "",
        **{name: _plain(getattr(exposure, name)) for name in TUBE},
        "taken_at": exposure.taken_at.astimezone().strftime("%Y-%m-%dT%H:%M:%S"),
        "reason": "",
    }
    row = scope.get(SeriesRow, exposure.series_id, "series")
    refused = ""
    if row.status != "open" and not actor.may(DENTISTS):
        refused = "This series is closed. A dentist may correct how its images were taken."
    return render(request, "pages/exposure_details.html", _details(scope, exposure, values, refused=refused))


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _details(
    scope: PracticeScope,
    exposure: ExposureRow,
    values: dict[str, str],
    errors: tuple[FieldError, ...] = (),
    refused: str = "",
) -> DetailsView:
    people = scope.all(scope.select(Staff).order_by(Staff.name))
    receptors = scope.all(scope.select(Receptor).order_by(Receptor.name))
    return DetailsView(
        heading="How the image was taken",
        errors=errors,
        exposure_id=exposure.id,
        series_id=exposure.series_id,
        image=_image_in_words(scope, exposure),
        values=values,
        people=[(each.id, each.name) for each in people if each.role != "administrator"],
        receptors=[("", "not said"), *((each.id, each.name) for each in receptors)],
        refused=refused,
    )


def _image_in_words(scope: PracticeScope, exposure: ExposureRow) -> str:
    row = scope.get(SeriesRow, exposure.series_id, "series")
    patient = scope.get(Patient, row.patient_id, "patient")
    slot = f", {frozen_template(row).slot(exposure.slot).title}" if exposure.slot else ""
    return f"{patient.name}, image {exposure.position}{slot}"


@router.post("/exposures/{exposure_id}/details")
def keep_details(
    request: Request, exposure_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Keep what was corrected."""
    try:
        with store.writing(actor.practice_id) as scope:
            series_id = correct_exposure_details(
                scope, actor, exposure_id, _typed(form), reason=form.text("reason")
            ).series_id
    except InputError as error:
        values = {name: form.text(name) for name in FIELDS}
        with store.reading(actor.practice_id) as scope:
            exposure = scope.get(ExposureRow, exposure_id, "image")
            view = _details(scope, exposure, values, errors_of(error, *FIELDS))
        return render(request, "pages/exposure_details.html", view, status=422)
    return go_to(f"/series/{series_id}?image={exposure_id}", "corrected")


def _typed(form: PostedForm) -> ExposureDetails:
    kv, ma, seconds = (_number(form, name) for name in TUBE)
    text = form.text("taken_at").strip()
    try:
        # The clock of this machine, as everywhere on the pages.
        taken_at = datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError) as error:
        raise InputError(
            "taken_at", f'"{text}" is not a moment. Write day and time, like 2026-03-27T09:30'
        ) from error
    return ExposureDetails(
        operator_id=form.text("operator"),
        receptor_id=form.text("receptor") or None,
        tube=TubeSettings(kv=kv, ma=ma, seconds=seconds),
        taken_at=taken_at,
    )


def _number(form: PostedForm, name: str) -> float | None:
    text = form.text(name).strip().replace(",", ".")
    if not text:
        return None
    try:
        return float(text)
    except ValueError as error:
        raise InputError(name, f'"{text}" is no number. Write it like 65 or 0.25, or leave it empty') from error
