"""The trail: for the administrator in full, for a dentist one patient's viewers."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import date, datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse

from app.core.errors import InputError
from app.storage.people import Patient
from app.storage.trail import TrailEntry
from app.web.dependencies import CurrentActor, ReadingDep, StoreDep
from app.web.pages.practice import places
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import ROLE_NAMES, Role
from app.work.trail import (
    NOBODY,
    TrailFilter,
    TrailPage,
    read_trail,
    trail_csv,
    trail_head,
    trail_people,
    viewers_of,
)

router = APIRouter(include_in_schema=False)

KIND_NAMES = {
    "start": "start",
    "view": "seen",
    "change": "change",
    "export": "export",
    "log_in": "log-in",
    "log_in_failed": "log-in failed",
    "log_out": "log-out",
    "refusal": "refused",
    "upkeep": "upkeep",
}

OPERATIONS = {"insert": "new", "update": "changed", "delete": "taken out"}

MOST_ROWS = 6
"""Ids of rows that one line shows; the export has them all."""


@dataclass(frozen=True, kw_only=True)
class TrailLine:
    """One entry as it is read.

    Parameters
    ----------
    more : what stands behind "more": rows, columns, route, hash
    """

    number: int
    at: datetime
    person: str
    role: str
    from_where: str
    kind: str
    is_refusal: bool
    what: str
    chart: str
    clock: str
    more: list[tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class TrailView(View):
    """A page of the trail with its filter; ``earlier`` is the address of older entries."""

    lines: list[TrailLine]
    asked: TrailFilter
    people: list[tuple[str, str]]
    kinds: list[tuple[str, str]]
    head: str
    newest: str
    earlier: str
    export: str
    places: list[tuple[str, str, bool]]


@dataclass(frozen=True, kw_only=True)
class ViewersView(View):
    """Who looked at one patient's images."""

    lines: list[TrailLine]
    back: str
    newest: str
    earlier: str


def line_of(entry: TrailEntry, page: TrailPage) -> TrailLine:
    """The entry in words."""
    details = json.loads(entry.details)
    back = details.get("clock_went_back_s")
    return TrailLine(
        number=entry.number,
        at=entry.at,
        person=page.people.get(entry.who, entry.who) or "",
        role=ROLE_NAMES[Role(entry.acting_as)] if entry.acting_as in set(Role) else entry.acting_as,
        from_where=entry.from_where,
        kind=KIND_NAMES.get(entry.kind, entry.kind),
        is_refusal=entry.kind in ("refusal", "log_in_failed"),
        what=entry.what.replace("_", " "),
        chart=page.charts.get(entry.patient_id, ""),
        clock=f"the machine's clock had been set back by {back} seconds" if back else "",
        more=_more(entry, details),
    )


def _more(entry: TrailEntry, details: dict[str, object]) -> list[tuple[str, str]]:
    found = []
    changes = details.get("changes", [])
    for each in changes if isinstance(changes, list) else []:
        rows, columns = each["rows"], each.get("columns", [])
        shown = ", ".join(rows[:MOST_ROWS]) + (
            f" and {len(rows) - MOST_ROWS} more" if len(rows) > MOST_ROWS else ""
        )
        title = f"{each['table'].replace('_', ' ')}, {OPERATIONS.get(each['operation'], each['operation'])}"
        found.append((title, " · ".join(part for part in (", ".join(columns), shown) if part)))
    known = ("changes", "clock_went_back_s")
    found += [(name.replace("_", " "), str(value)) for name, value in details.items() if name not in known]
    ids = (("patient", entry.patient_id), ("series", entry.series_id), ("request", entry.request_id))
    found += [pair for pair in ids if pair[1]]
    return [*found, ("hash", entry.hash)]


@router.get("/trail")
def show_trail(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The entries that the address asks for."""
    asked = TrailFilter.from_query(request.query_params)
    errors: tuple[FieldError, ...] = ()
    try:
        page = read_trail(scope, actor, asked)
    except InputError as error:
        errors = errors_of(error)
        page = TrailPage(entries=(), more=False, people={}, charts={})
    number, digits = trail_head(scope, actor)
    everybody = sorted(trail_people(scope, actor).items(), key=lambda each: each[1].casefold())
    query = asked.to_query()
    view = TrailView(
        heading="Trail",
        errors=errors,
        lines=[line_of(each, page) for each in page.entries],
        asked=asked,
        people=[("", "everybody"), (NOBODY, "nobody known"), *everybody],
        kinds=[("", "everything"), *KIND_NAMES.items()],
        head=f"{number}:{digits[:16]}",
        newest=_address("/trail", query) if asked.before else "",
        earlier=_address("/trail", asked.to_query(before=page.entries[-1].number)) if page.more else "",
        export=_address("/trail.csv", query),
        places=places("/trail", actor),
    )
    return render(request, "pages/trail.html", view, status=422 if errors else 200)


def _address(path: str, query: str) -> str:
    return f"{path}?{query}" if query else path


@router.get("/trail.csv")
def export_trail(request: Request, actor: CurrentActor, store: StoreDep) -> Response:
    """Every entry that the address asks for, as CSV."""
    pieces = trail_csv(store, actor, replace(TrailFilter.from_query(request.query_params), before=0))
    name = f"trail-{date.today().isoformat()}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"}
    return StreamingResponse(pieces, media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/patients/{patient_id}/viewers")
def show_viewers(
    request: Request, patient_id: str, scope: ReadingDep, actor: CurrentActor, before: int = 0
) -> Response:
    """Who looked at this patient's images."""
    page = viewers_of(scope, actor, patient_id, before=max(0, min(before, 10**17)))
    patient = scope.get(Patient, patient_id, "patient")
    own = f"/patients/{patient.id}/viewers"
    view = ViewersView(
        heading=f"Who looked at the images of {patient.name}",
        lines=[line_of(each, page) for each in page.entries],
        back=f"/patients/{patient.id}",
        newest=own if before else "",
        earlier=f"{own}?before={page.entries[-1].number}" if page.more else "",
    )
    return render(request, "pages/trail_viewers.html", view)
