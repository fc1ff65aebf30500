"""The export of all about one patient: asked for on a page, sent as it is made."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse
from jinja2 import Environment

from app.core.numbering import Numbering
from app.exchange.zip_stream import zip_pieces
from app.imaging.decode import ImageLimits
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, ReadingDep, SettingsDep, ShownNumbering, StoreDep
from app.web.pages.chairside_facts import series_facts
from app.web.pages.chairside_record import record_view
from app.web.rendering import View, render
from app.work.actor import Actor
from app.work.correction_history import corrections_of_series
from app.work.patient_export import everything_about, safe_name

router = APIRouter(include_in_schema=False)

STATIC = Path(__file__).resolve().parents[3] / "static"
STYLES = ("base.css", "parts.css", "chart.css", "chairside.css", "print.css")
_PICTURE = re.compile(r"/images/([0-9a-f]{64})(?:\?[^\"&]*(?:&amp;[^\"]*)?)?")


@dataclass(frozen=True, kw_only=True)
class ExportView(View):
    """Whose export, and what it will hold."""

    patient_id: str
    patient: str
    chart_number: str


@dataclass(frozen=True, kw_only=True)
class _Printer:
    """Prints a record so that it stands alone: styles and pictures beside it."""

    templates: Environment
    actor: Actor
    numbering: Numbering

    def __call__(self, scope: PracticeScope, series_id: str, places: Mapping[str, str]) -> bytes:
        view = record_view(
            series_facts(scope, series_id, self.numbering), corrections_of_series(scope, self.actor, series_id)
        )
        sheet = self.templates.get_template("sheets/record_alone.html")
        page = sheet.render(view=view, practice=scope.practice().name, styles=STYLES)
        return _PICTURE.sub(lambda found: places.get(found[1], ""), page).encode()


@router.get("/patients/{patient_id}/everything")
def ask_for_export(request: Request, patient_id: str, scope: ReadingDep) -> Response:
    """What the export holds, and the button that makes it."""
    patient = scope.get(Patient, patient_id, "patient")
    view = ExportView(
        heading="All about one patient",
        patient_id=patient.id,
        patient=patient.name,
        chart_number=patient.chart_number,
    )
    return render(request, "pages/patient_export.html", view)


@router.get("/patients/{patient_id}/everything.zip")
def export_everything(
    request: Request,
    patient_id: str,
    store: StoreDep,
    settings: SettingsDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
) -> Response:
    """The archive, sent while it is made."""
    with store.reading(actor.practice_id) as scope:
        number = scope.get(Patient, patient_id, "patient").chart_number
    entries = everything_about(
        store,
        actor,
        patient_id,
        printed=_Printer(templates=request.app.state.templates, actor=actor, numbering=numbering),
        limits=ImageLimits(max_bytes=settings.max_upload_bytes, max_pixels=settings.max_pixels),
        more=[(f"records/{name}", [(STATIC / name).read_bytes()]) for name in STYLES],
    )
    headers = {
        "Content-Disposition": f'attachment; filename="patient-{safe_name(number)}.zip"',
        "Cache-Control": "no-store",
    }
    return StreamingResponse(zip_pieces(entries), media_type="application/zip", headers=headers)
