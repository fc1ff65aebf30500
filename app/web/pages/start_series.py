"""A series begins in two steps: the patient with the chart, then the template and the prescription."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.core.dentition import Dentition
from app.core.errors import InputError
from app.exchange.shared_data import builtin_templates
from app.storage.people import Patient, Staff
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, ShownNumbering, StoreDep
from app.web.pages.dentition import ChartView, chart_view
from app.web.pages.patients import MOST_FOUND, PatientLine, line_of
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import DENTISTS, Actor, Role
from app.work.charts import chart_of
from app.work.patients import find_patients
from app.work.series_lists import ListedSeries, series_of_patient
from app.work.start_series import start_series
from app.work.templates import choosable_templates

router = APIRouter(include_in_schema=False)

USUAL_TEMPLATE = {"permanent": "adult-18", "mixed": "mixed-12", "primary": "primary-8"}
"""What is ticked first for each kind of dentition (common practice, no source); the prescription decides."""

FIELDS = ("template", "prescribed_by", "reason", "room")


@dataclass(frozen=True, kw_only=True)
class WhoView(View):
    """Step 1: who sits in the chair. Without a patient a search, with one the chart to look at.

    Parameters
    ----------
    still_open : series of this patient that could be gone on with instead
    """

    words: str
    found: list[PatientLine]
    cut: bool
    patient: PatientLine | None
    chart: ChartView | None
    still_open: list[ListedSeries]


@dataclass(frozen=True, kw_only=True)
class WhatView(View):
    """Step 2: which template, prescribed by whom and why, in which room.

    Parameters
    ----------
    templates, dentists, rooms : choices as value, text and hint
    chosen : what is ticked or typed
    """

    patient: PatientLine
    unusual: tuple[str, ...]
    templates: list[tuple[str, str, str]]
    dentists: list[tuple[str, str]]
    rooms: list[tuple[str, str]]
    chosen: dict[str, str]


@router.get("/series/new")
def show_who(
    request: Request, scope: ReadingDep, numbering: ShownNumbering, patient: str = "", q: str = ""
) -> Response:
    """Find or register the patient; then look at the chart."""
    words = q.strip()[:200]
    if patient:
        row = scope.get(Patient, patient, "patient")
        earlier = series_of_patient(scope, row.id)
        view = WhoView(
            heading="Start a series",
            words="",
            found=[],
            cut=False,
            patient=line_of(row),
            chart=chart_view(chart_of(row), numbering),
            still_open=[each for each in earlier if each.is_open],
        )
    else:
        found = find_patients(scope, words, limit=MOST_FOUND + 1)
        view = WhoView(
            heading="Start a series",
            words=words,
            found=[line_of(each) for each in found[:MOST_FOUND]],
            cut=len(found) > MOST_FOUND,
            patient=None,
            chart=None,
            still_open=[],
        )
    return render(request, "pages/start_who.html", view)


@router.get("/series/new/{patient_id}")
def show_what(
    request: Request, patient_id: str, scope: ReadingDep, actor: CurrentActor, numbering: ShownNumbering
) -> Response:
    """What is prescribed."""
    patient = scope.get(Patient, patient_id, "patient")
    chosen = _usual_choice(scope, actor, chart_of(patient))
    return render(request, "pages/start_what.html", _what(scope, patient, numbering, chosen))


def _usual_choice(scope: PracticeScope, actor: Actor, chart: Dentition) -> dict[str, str]:
    dentists = _dentists(scope)
    toothless = not any(chart.asks(tooth).crown or chart.asks(tooth).apices for tooth in chart.positions())
    me = actor.staff_id if actor.may(DENTISTS) else ""
    rooms = _rooms(scope)
    return {
        "template": "edentulous-14" if toothless else USUAL_TEMPLATE[chart.kind],
        "prescribed_by": me or (dentists[0].id if len(dentists) == 1 else ""),
        "reason": "",
        "room": rooms[0].id if len(rooms) == 1 else "",
    }


def _dentists(scope: PracticeScope) -> list[Staff]:
    rows = scope.all(scope.select(Staff).order_by(Staff.name))
    return [each for each in rows if each.role == Role.DENTIST and not each.retired]


def _rooms(scope: PracticeScope) -> list[Room]:
    return [each for each in scope.all(scope.select(Room).order_by(Room.name)) if not each.retired]


def _what(
    scope: PracticeScope,
    patient: Patient,
    numbering: ShownNumbering,
    chosen: dict[str, str],
    errors: tuple[FieldError, ...] = (),
) -> WhatView:
    return WhatView(
        heading="Start a series",
        errors=errors,
        patient=line_of(patient),
        unusual=chart_view(chart_of(patient), numbering).unusual,
        templates=_offered(scope, chosen["template"]),
        dentists=[("", "Choose the dentist")] + [(each.id, each.name) for each in _dentists(scope)],
        rooms=[("", "Not said")] + [(each.id, each.name) for each in _rooms(scope)],
        chosen=chosen,
    )


def _offered(scope: PracticeScope, first: str) -> list[tuple[str, str, str]]:
    """The templates to choose from, the one that is ticked at the top."""
    built_in = builtin_templates()
    lines = [
        (key, template.title, "" if key in built_in else "your own")
        for key, template in choosable_templates(scope).items()
    ]
    return sorted(lines, key=lambda line: line[0] != first)


@router.post("/series/new/{patient_id}")
def start(
    request: Request,
    patient_id: str,
    actor: CurrentActor,
    store: StoreDep,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Begin it, and go to its page."""
    chosen = {name: form.text(name) for name in FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            series = start_series(
                scope,
                actor,
                patient_id=patient_id,
                template_key=chosen["template"],
                prescribed_by=chosen["prescribed_by"],
                reason=chosen["reason"],
                room_id=chosen["room"],
                today=date.today(),
            ).id
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            patient = scope.get(Patient, patient_id, "patient")
            view = _what(scope, patient, numbering, chosen, errors_of(error, *FIELDS))
        return render(request, "pages/start_what.html", view, status=422)
    return RedirectResponse(f"/series/{series}", status_code=303)
