"""The dentition chart: shown anywhere, edited on its own page and wherever a patient is prepared for a series.

The form is a table with a row for each position, so that it works without any script; a script turns it into a
chart whose teeth are touched. Each row's fields are ``state-NN`` and ``root-NN`` (repeated), each closed space one
``space``.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.dentition import DENTITION_KINDS, Dentition, ToothState
from app.core.errors import InputError
from app.core.numbering import Numbering, shown
from app.core.overtaking import Fields
from app.core.teeth import (
    LOWER_PERMANENT,
    LOWER_PRIMARY,
    QUADRANT_NAMES,
    ROOT_NAMES,
    UPPER_PERMANENT,
    UPPER_PRIMARY,
    arch,
    quadrant,
    usual_roots,
)
from app.storage.people import Patient
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, ShownNumbering, StoreDep
from app.web.leading import own_address
from app.web.notes import go_to
from app.web.rendering import FieldError, View, render
from app.web.seen.patients import chart_fields, seen_chart
from app.web.tooth_drawings import ToothDrawing, drawing_of
from app.work.charts import chart_of, read_chart
from app.work.overtaken import Seen
from app.work.patients import save_chart

router = APIRouter(include_in_schema=False)

ABSENT = "absent"
"""State of a row that is not on a mixed chart: another tooth stands there, or none is expected."""

ROOT_ORDER = ("MB", "DB", "B", "P", "L", "M", "D", "R")
"""Order in which the form lists roots, and in which they are kept: buccal before palatal, mesial before distal."""

STATE_WORDS: dict[str, str] = {
    "present": "present",
    "implant": "implant",
    "pontic": "bridge pontic",
    "root_remnant": "root remnant",
    "unerupted": "unerupted or impacted",
    "missing": "missing",
}


@dataclass(frozen=True, kw_only=True)
class ToothRow:
    """One position of the chart.

    Parameters
    ----------
    label : in the numbering that the practice reads
    state : one of the six states, or "absent" on a mixed chart
    roots : those it has now
    usual : those it usually has
    roots_drawn : how many of its roots the drawing shows, 1 to 3
    closed : whether a space has closed over it
    """

    tooth: str
    label: str
    where: str
    upper: bool
    state: str
    roots: tuple[str, ...]
    usual: tuple[str, ...]
    roots_drawn: int
    closed: bool
    drawing: ToothDrawing


@dataclass(frozen=True, kw_only=True)
class ChartView:
    """A dentition as rows, and as rows of the drawn chart."""

    kind: str
    rows: tuple[ToothRow, ...]
    drawn: tuple[tuple[ToothRow, ...], ...]
    closed_spaces: tuple[tuple[str, str], ...]
    states: tuple[tuple[str, str], ...]
    root_names: tuple[tuple[str, str], ...]
    unusual: tuple[str, ...]
    """In words, what differs from a full dentition with usual roots."""


@dataclass(frozen=True, kw_only=True)
class ChartFormView(View):
    """The page on which a chart is edited; ``back`` is where keeping it leads."""

    patient_id: str
    patient_name: str
    chart: ChartView
    back: str


def chart_view(dentition: Dentition, numbering: Numbering) -> ChartView:
    """The dentition as the pages show it."""
    arches = {
        "permanent": (UPPER_PERMANENT, LOWER_PERMANENT),
        "primary": (UPPER_PRIMARY, LOWER_PRIMARY),
        "mixed": (UPPER_PERMANENT, UPPER_PRIMARY, LOWER_PRIMARY, LOWER_PERMANENT),
    }[dentition.kind]
    drawn = tuple(tuple(_row(dentition, tooth, numbering) for tooth in teeth) for teeth in arches)
    rows = tuple(row for line in drawn for row in line)
    states = tuple((state.value, STATE_WORDS[state.value]) for state in ToothState)
    mixed = dentition.kind == "mixed"
    return ChartView(
        kind=dentition.kind,
        rows=rows,
        drawn=drawn,
        closed_spaces=dentition.closed_spaces,
        states=((ABSENT, "not on this chart"), *states) if mixed else states,
        root_names=tuple((code, ROOT_NAMES[code]) for code in ROOT_ORDER),
        unusual=_unusual(rows, dentition, numbering),
    )


def _row(dentition: Dentition, tooth: str, numbering: Numbering) -> ToothRow:
    state = dentition.state(tooth)
    code = state.value if state is not None else ABSENT
    roots = dentition.roots_of(tooth)
    return ToothRow(
        tooth=tooth,
        label=shown(tooth, numbering),
        where=QUADRANT_NAMES[quadrant(tooth)],
        upper=arch(tooth) == "upper",
        state=code,
        roots=tuple(dentition.roots.get(tooth, usual_roots(tooth))),
        usual=usual_roots(tooth),
        roots_drawn=min(3, len(roots)),
        closed=any(tooth in dentition.between(*pair) for pair in dentition.closed_spaces),
        drawing=drawing_of(tooth),
    )


def _unusual(rows: tuple[ToothRow, ...], dentition: Dentition, numbering: Numbering) -> tuple[str, ...]:
    lines: list[str] = []
    for state in ToothState:
        named = [row.label for row in rows if row.state == state]
        if named and state is not ToothState.PRESENT:
            lines.append(f"{STATE_WORDS[state.value]}: {', '.join(named)}")
    for tooth, roots in dentition.roots.items():
        if tuple(roots) != usual_roots(tooth):
            lines.append(f"roots of {shown(tooth, numbering)}: {', '.join(roots)}")
    for first, second in dentition.closed_spaces:
        lines.append(f"space closed: {shown(first, numbering)}–{shown(second, numbering)}")
    return tuple(lines)


def read_posted_chart(form: PostedForm, *, with_spaces: bool = True) -> Dentition:
    """The dentition that a chart's form describes.

    Raises
    ------
    InputError
        At the field that cannot be, its path as in a series file.
    """
    kind = form.text("dentition_kind", "permanent")
    states: dict[str, str] = {}
    roots: dict[str, list[str]] = {}
    for name in form.names():
        if name.startswith("state-"):
            state = form.text(name)
            tooth = name.removeprefix("state-")
            if state != ABSENT and not (kind != "mixed" and state == "present"):
                states[tooth] = state
        elif name.startswith("root-"):
            roots[name.removeprefix("root-")] = form.texts(name)
    kept = {tooth: codes for tooth, codes in roots.items() if not _is_usual(tooth, codes, kind, states)}
    spaces = [space.replace(" ", "") for space in form.texts("space") if with_spaces and space.strip()]
    return read_chart({"dentition_kind": kind, "dentition": states, "roots": kept, "closed_spaces": spaces})


def _is_usual(tooth: str, codes: list[str], kind: str, states: dict[str, str]) -> bool:
    if kind == "mixed" and tooth not in states:
        return True
    try:
        return set(codes) == set(usual_roots(tooth))
    except (KeyError, ValueError, IndexError):
        return False


def as_kind(dentition: Dentition, kind: str) -> Dentition:
    """The chart to begin with where its kind is changed: what both kinds have stays as it is."""
    if kind == dentition.kind or kind not in DENTITION_KINDS:
        return dentition
    states = {tooth: state for tooth in dentition.positions() if (state := dentition.state(tooth)) is not None}
    empty = Dentition(kind=kind)
    if kind == "mixed":
        return Dentition(kind=kind, states=states)
    return Dentition(kind=kind, states={t: s for t, s in states.items() if t in empty.positions()})


@router.get("/patients/{patient_id}/chart")
def show_chart(
    request: Request,
    patient_id: str,
    scope: ReadingDep,
    numbering: ShownNumbering,
    kind: str = "",
    back: str = "",
) -> Response:
    """The chart to edit; ``kind`` shows it as another kind of dentition, not yet kept."""
    patient = scope.get(Patient, patient_id, "patient")
    dentition = as_kind(chart_of(patient), kind)
    opened = opened_field(_seen(patient, numbering))
    return render(request, "pages/chart.html", _form(patient, dentition, numbering, back, opened))


def _fields(dentition: Dentition, numbering: Numbering) -> Fields:
    rows = chart_view(dentition, numbering).rows
    return chart_fields(dentition, {row.tooth: row.roots for row in rows}, {row.tooth: row.state for row in rows})


def _seen(patient: Patient, numbering: Numbering) -> Seen:
    words = {**STATE_WORDS, ABSENT: "not on this chart"}
    return seen_chart(patient, _fields(chart_of(patient), numbering), numbering, words)


def _form(
    patient: Patient,
    dentition: Dentition,
    numbering: Numbering,
    back: str,
    opened: str,
    errors: tuple[FieldError, ...] = (),
) -> ChartFormView:
    return ChartFormView(
        heading=f"Teeth of {patient.name}",
        errors=errors,
        opened=opened,
        patient_id=patient.id,
        patient_name=patient.name,
        chart=chart_view(dentition, numbering),
        back=own_address(back) if back else f"/patients/{patient.id}",
    )


@router.post("/patients/{patient_id}/chart")
def keep_chart(
    request: Request,
    patient_id: str,
    actor: CurrentActor,
    store: StoreDep,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Keep the chart; open series of the patient follow it."""
    back = form.text("back")
    try:
        dentition = read_posted_chart(form)
        with store.writing(actor.practice_id) as scope:
            seen = _seen(scope.held(Patient, patient_id, "patient"), numbering)
            check_overtaken(
                scope,
                form,
                seen,
                back=f"/patients/{patient_id}/chart?{urlencode({'back': back})}",
                wanted=_fields(dentition, numbering),
            )
            save_chart(scope, actor, patient_id, dentition)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            patient = scope.get(Patient, patient_id, "patient")
            # What was typed cannot be shown as a chart where it is not one: the spaces are the usual reason.
            typed = _without_spaces(form, chart_of(patient))
            view = _form(
                patient, typed, numbering, back, form.text(OPENED), (FieldError(field="", message=str(error)),)
            )
        return render(request, "pages/chart.html", view, status=422)
    return go_to(own_address(back) if back else f"/patients/{patient_id}", "chart-kept")


def _without_spaces(form: PostedForm, before: Dentition) -> Dentition:
    try:
        return read_posted_chart(form, with_spaces=False)
    except InputError:
        return before
