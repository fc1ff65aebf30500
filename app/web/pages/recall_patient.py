"""One patient's recall: the days and what they rest on, the call, and everything that happened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.core.recall.intervals import months_after
from app.core.targets import label
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import CariesRisk, RecallItem
from app.web.dependencies import CurrentActor, Posted, StoreDep
from app.web.formatting import age_at
from app.web.notes import go_to
from app.web.pages.recall import places
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import DENTISTS, Actor
from app.work.recall_claims import claim, release
from app.work.recall_contacts import note_contact
from app.work.recall_facts import gather
from app.work.recall_filter import KINDS
from app.work.recall_history import Happened, history_of
from app.work.recall_holds import HOLD_KINDS
from app.work.recall_list import RecallLine, lines_of
from app.work.recall_warnings import booking_warnings

router = APIRouter(include_in_schema=False)

RISK_HOLDS_MONTHS = 24
"""A caries risk older than this is to be entered again, months (common practice, no source)."""

BUTTONS = (
    ("reached", "Reached", "primary"),
    ("message", "Left a message", "quiet"),
    ("booked", "Booked", "quiet"),
    ("declined", "Declined", "quiet"),
    ("wrong_number", "Wrong number", "quiet"),
)
"""The outcomes of a call, as big buttons."""

FORM = ("next_try_on", "note")


@dataclass(frozen=True, kw_only=True)
class RecallPatientView(View):
    """A patient's recall.

    Parameters
    ----------
    day, warnings : a day that was asked about, and what speaks against it; empty where none was
    risk_old : whether the risk on record is to be entered again
    not_seen : back contacts that the last bitewings did not show
    """

    places: list[tuple[str, str, bool]]
    patient: Patient
    age: int
    lines: list[RecallLine]
    kinds: dict[str, str]
    holds: dict[str, str]
    risk: CariesRisk | None
    risk_old: bool
    history: list[Happened]
    caller: str
    mine: bool
    buttons: tuple[tuple[str, str, str], ...]
    values: dict[str, str]
    day: str
    warnings: list[str]
    day_error: str
    dentist: bool
    not_seen: list[str]


def patient_view(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    day: str = "",
    values: dict[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
) -> RecallPatientView:
    """The page of a patient's recall."""
    today = date.today()
    patient = scope.get(Patient, patient_id, "patient")
    items = scope.all(
        scope.select(RecallItem).where(RecallItem.patient_id == patient.id).order_by(RecallItem.kind)
    )
    lines = lines_of(scope, items, today, staff_id=actor.staff_id)
    risks = scope.all(
        scope.select(CariesRisk)
        .where(CariesRisk.patient_id == patient.id)
        .order_by(CariesRisk.assessed_on, CariesRisk.recorded_at)  # type: ignore[arg-type]  # columns
    )
    risk = risks[-1] if risks else None
    warnings, day_error = _about(scope, patient.id, day, today)
    (known,) = gather(scope, [patient.id], today)
    numbering = Numbering(scope.practice().numbering)
    return RecallPatientView(
        heading=f"Recall of {patient.name}",
        errors=errors,
        places=places("", actor),
        patient=patient,
        age=age_at(patient.birth_date, today),
        lines=lines,
        kinds=KINDS,
        holds=HOLD_KINDS,
        risk=risk,
        risk_old=risk is not None and months_after(risk.assessed_on, RISK_HOLDS_MONTHS) < today,
        history=history_of(scope, patient.id),
        caller=next((line.caller for line in lines if line.caller), ""),
        mine=any(line.mine for line in lines),
        buttons=BUTTONS,
        values=dict.fromkeys(FORM, "") | (values or {}),
        day=day,
        warnings=warnings,
        day_error=day_error,
        dentist=actor.may(DENTISTS),
        not_seen=[label(each, numbering) for each in known.facts.counted.not_seen],
    )


def _about(scope: PracticeScope, patient_id: str, text: str, today: date) -> tuple[list[str], str]:
    """What speaks against the day asked about, and what is wrong with what was typed."""
    if not text.strip():
        return [], ""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return [], f'"{text[:40]}" is not a date. Write year, month and day, like 2026-09-30'
    if day < today:
        return [], f"{day.isoformat()} is past. Ask about a day to come"
    return booking_warnings(scope, patient_id, day, today), ""


@router.get("/recall/patients/{patient_id}")
def show_patient_recall(
    request: Request, patient_id: str, store: StoreDep, actor: CurrentActor, day: str = ""
) -> Response:
    """The patient's recall."""
    with store.reading(actor.practice_id) as scope:
        view = patient_view(scope, actor, patient_id, day=day)
    return render(request, "pages/recall_patient.html", view)


@router.post("/recall/patients/{patient_id}/claim")
def take(request: Request, patient_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Take the patient to call; where somebody else is calling, say who."""
    try:
        with store.writing(actor.practice_id) as scope:
            claim(scope, actor, patient_id)
    except InputError as error:
        return _again(request, patient_id, store, actor, {}, errors_of(error))
    return go_to(f"/recall/patients/{patient_id}", "recall-claimed")


@router.post("/recall/patients/{patient_id}/release")
def give_back(patient_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Give the patient back."""
    with store.writing(actor.practice_id) as scope:
        release(scope, actor, patient_id)
    return go_to("/recall", "recall-released")


@router.post("/recall/patients/{patient_id}/contacts")
def keep_contact(
    request: Request, patient_id: str, store: StoreDep, actor: CurrentActor, form: Posted
) -> Response:
    """Keep what came of the call."""
    values = {name: form.text(name) for name in FORM}
    try:
        with store.writing(actor.practice_id) as scope:
            note_contact(
                scope,
                actor,
                patient_id,
                outcome=form.text("outcome"),
                note=values["note"],
                next_try_on=values["next_try_on"],
                today=date.today(),
            )
    except InputError as error:
        return _again(request, patient_id, store, actor, values, errors_of(error, *FORM))
    return go_to(f"/recall/patients/{patient_id}", "recall-contact-kept")


def _again(
    request: Request,
    patient_id: str,
    store: StoreDep,
    actor: Actor,
    values: dict[str, str],
    errors: tuple[FieldError, ...],
) -> Response:
    with store.reading(actor.practice_id) as scope:
        view = patient_view(scope, actor, patient_id, values=values, errors=errors)
    return render(request, "pages/recall_patient.html", view, status=422)
