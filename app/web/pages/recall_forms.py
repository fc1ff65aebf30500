"""The forms of a patient's recall: prescription, caries risk, hold, images from elsewhere; and undoing them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.recall.intervals import months_after
from app.exchange.recall_guidance import full_series_custom, risk_reasons
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, PostedForm, StoreDep
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.desk import seen_recall
from app.work.actor import DENTISTS, Actor
from app.work.recall_holds import HOLD_KINDS, lift_hold, place_hold
from app.work.recall_outside import OUTSIDE_KINDS, SIDES, record_outside_images, withdraw_outside_images
from app.work.recall_prescriptions import (
    PRESCRIBED_KINDS,
    assess_risk,
    prescribe_recall,
    withdraw_prescription,
)

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class RecallFormView(View):
    """A form about one patient's recall.

    Parameters
    ----------
    values : what was typed, by the name of the field
    ticked : what was ticked of several
    options : pairs of value and words, by the name of the field
    """

    patient: Patient
    form: str
    action: str
    deed: str
    values: dict[str, str]
    ticked: list[str]
    options: dict[str, list[tuple[str, str, str]]]
    custom: str


@dataclass(frozen=True)
class _Form:
    """What one of the forms is, and what it does."""

    heading: str
    deed: str
    fields: tuple[str, ...]
    note: str
    keep: Callable[[PracticeScope, Actor, str, dict[str, str], list[str]], Any]


FORMS = {
    "prescribe": _Form(
        "Prescribe recall radiographs",
        "Prescribe",
        ("kind", "interval_months", "due_on", "reason", "ends_on"),
        "recall-prescribed",
        lambda scope, actor, patient, values, _: prescribe_recall(
            scope, actor, patient, today=date.today(), **values
        ),
    ),
    "risk": _Form(
        "Assess the caries risk",
        "Keep the risk",
        ("level", "assessed_on"),
        "recall-risk-kept",
        lambda scope, actor, patient, values, ticked: assess_risk(
            scope, actor, patient, reasons=ticked, today=date.today(), **values
        ),
    ),
    "hold": _Form(
        "Hold the recall",
        "Hold the recall",
        ("kind", "until_on", "note"),
        "recall-held",
        lambda scope, actor, patient, values, _: place_hold(scope, actor, patient, today=date.today(), **values),
    ),
    "outside": _Form(
        "Images from elsewhere",
        "Keep the images",
        ("kind", "taken_on", "sides", "origin"),
        "recall-outside-kept",
        lambda scope, actor, patient, values, ticked: record_outside_images(
            scope,
            actor,
            patient,
            kind=values["kind"],
            taken_on=values["taken_on"],
            sides=values["sides"],
            origin=values["origin"],
            diagnostic="unreadable" not in ticked,
            today=date.today(),
        ),
    ),
}
"""The forms, by the last word of their address."""


def _view(
    store: Store,
    actor: Actor,
    patient_id: str,
    form: str,
    values: dict[str, str] | None = None,
    ticked: list[str] | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str | None = None,
) -> RecallFormView:
    with store.reading(actor.practice_id) as scope:
        patient = scope.get(Patient, patient_id, "patient")
        opened = opened_field(seen_recall(scope, patient_id, form)) if opened is None else opened
    about = FORMS[form]
    today = date.today()
    usual = {"assessed_on": today.isoformat(), "sides": "both", "ends_on": months_after(today, 24).isoformat()}
    kinds = {
        "prescribe": PRESCRIBED_KINDS,
        "hold": {key: words for key, words in HOLD_KINDS.items() if key != "dentist" or actor.may(DENTISTS)},
        "outside": OUTSIDE_KINDS,
        "risk": {},
    }[form]
    hints = {"full_series": "by prescription only, never by the calendar" if form == "prescribe" else ""}
    custom = full_series_custom()
    return RecallFormView(
        heading=f"{about.heading}: {patient.name}",
        errors=errors,
        opened=opened,
        patient=patient,
        form=form,
        action=f"/recall/patients/{patient_id}/{form}",
        deed=about.deed,
        values={name: usual.get(name, "") for name in about.fields} | (values or {}),
        ticked=ticked or [],
        options={
            "kind": [(key, words, hints.get(key, "")) for key, words in kinds.items()],
            "level": [(each, each, "") for each in ("low", "moderate", "high")],
            "sides": [(key, words, "") for key, words in SIDES.items()],
            "reasons": [(each.code, each.title, "") for each in risk_reasons()],
        },
        custom=f"{custom.months.low // 12} to {custom.months.high // 12} years",
    )


def _show(request: Request, store: Store, actor: Actor, patient_id: str, form: str) -> Response:
    return render(request, "pages/recall_form.html", _view(store, actor, patient_id, form))


def _keep(request: Request, store: Store, actor: Actor, patient_id: str, form: str, sent: PostedForm) -> Response:
    about = FORMS[form]
    values = {name: sent.text(name) for name in about.fields}
    ticked = sent.texts("ticked")
    try:
        with store.writing(actor.practice_id) as scope:
            scope.held(Patient, patient_id, "patient")
            seen = seen_recall(scope, patient_id, form)
            check_overtaken(scope, sent, seen, back=f"/recall/patients/{patient_id}/{form}")
            about.keep(scope, actor, patient_id, values, ticked)
    except InputError as error:
        errors = errors_of(error, *about.fields)
        view = _view(store, actor, patient_id, form, values, ticked, errors, sent.text(OPENED))
        return render(request, "pages/recall_form.html", view, status=422)
    return go_to(f"/recall/patients/{patient_id}", about.note)


@router.get("/recall/patients/{patient_id}/prescribe")
def show_prescribe(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """The form of a prescription."""
    return _show(request, store, actor, patient_id, "prescribe")


@router.post("/recall/patients/{patient_id}/prescribe")
def prescribe(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Keep the prescription."""
    return _keep(request, store, actor, patient_id, "prescribe", form)


@router.get("/recall/patients/{patient_id}/risk")
def show_risk(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """The form of the risk."""
    return _show(request, store, actor, patient_id, "risk")


@router.post("/recall/patients/{patient_id}/risk")
def keep_risk(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Keep the risk."""
    return _keep(request, store, actor, patient_id, "risk", form)


@router.get("/recall/patients/{patient_id}/hold")
def show_hold(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """The form of a hold."""
    return _show(request, store, actor, patient_id, "hold")


@router.post("/recall/patients/{patient_id}/hold")
def hold(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Keep the hold."""
    return _keep(request, store, actor, patient_id, "hold", form)


@router.get("/recall/patients/{patient_id}/outside")
def show_outside(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """The form of images from elsewhere."""
    return _show(request, store, actor, patient_id, "outside")


@router.post("/recall/patients/{patient_id}/outside")
def keep_outside(
    request: Request, patient_id: str, store: StoreDep, actor: CurrentActor, form: Posted
) -> Response:
    """Keep the images from elsewhere."""
    return _keep(request, store, actor, patient_id, "outside", form)


@router.post("/recall/prescriptions/{prescription_id}/withdraw")
def withdraw(prescription_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Take a prescription back."""
    with store.writing(actor.practice_id) as scope:
        row = withdraw_prescription(scope, actor, prescription_id, date.today())
    return go_to(f"/recall/patients/{row.patient_id}", "recall-withdrawn")


@router.post("/recall/holds/{hold_id}/lift")
def lift(hold_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Lift a hold."""
    with store.writing(actor.practice_id) as scope:
        row = lift_hold(scope, actor, hold_id, date.today())
    return go_to(f"/recall/patients/{row.patient_id}", "recall-lifted")


@router.post("/recall/outside/{outside_id}/withdraw")
def withdraw_outside(outside_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Take back a record of images from elsewhere."""
    with store.writing(actor.practice_id) as scope:
        row = withdraw_outside_images(scope, actor, outside_id, date.today())
    return go_to(f"/recall/patients/{row.patient_id}", "recall-withdrawn")
