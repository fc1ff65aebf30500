"""Lists to keep as CSV: patients, and the recall list as it is filtered."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.dependencies import CurrentActor, ReadingDep
from app.web.pages.imports import csv_answer
from app.work.exports import patients_csv, recall_csv
from app.work.recall_filter import RecallFilter

router = APIRouter(include_in_schema=False)


@router.get("/exports/patients.csv")
def export_patients(scope: ReadingDep, actor: CurrentActor) -> Response:
    """Every patient."""
    return csv_answer(f"patients-{date.today().isoformat()}.csv", patients_csv(scope, actor))


@router.get("/exports/recall.csv")
def export_recall(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The recall list with the filter of the address, as on its page."""
    today = date.today()
    asked = RecallFilter.from_query(request.query_params)
    return csv_answer(f"recall-{today.isoformat()}.csv", recall_csv(scope, actor, asked, today))
