"""Signed quality reports: the list, the draft with its preview, signing, and the files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.reports.quality_report import QualityReport, report_pdf
from app.storage.database import Store
from app.storage.quality import SignedReport
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, StoreDep
from app.web.files_out import attachment
from app.web.notes import go_to
from app.web.pages.quality_address import AskedReview
from app.web.pages.quality_places import places
from app.web.pages.report_charts import report_charts
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import Actor
from app.work.quality_period import Period
from app.work.quality_record import signed_reports
from app.work.report_contents import NAMES, Written
from app.work.report_signing import (
    checked_period_of_report,
    checked_writing,
    draft_report,
    names_of_signers,
    sign_quality_report,
    signed_file,
)

router = APIRouter(include_in_schema=False)

HERE = "/quality/reports"
FIELDS = ("first", "last", "names", "conclusions", "actions", "previewed")


@dataclass(frozen=True, kw_only=True)
class SignedLine:
    """A signed report as a line of the list."""

    id: str
    period: str
    signed_by: str
    signed_at: datetime
    sha256: str


@dataclass(frozen=True, kw_only=True)
class ReportsView(View):
    """Every signed report, the newest first."""

    places: list[tuple[str, str, bool]]
    reports: list[SignedLine]


@dataclass(frozen=True, kw_only=True)
class SignedView(View):
    """One signed report: what it said in short, and its file."""

    places: list[tuple[str, str, bool]]
    line: SignedLine
    summary: list[list[str]]
    conclusions: list[str]
    actions: list[str]
    byte_count: int


@dataclass(frozen=True, kw_only=True)
class DraftView(View):
    """The form of a report, with the preview once it has been asked for.

    Parameters
    ----------
    report : the draft; None before the first look
    """

    places: list[tuple[str, str, bool]]
    values: Mapping[str, str]
    names: tuple[tuple[str, str, str], ...]
    report: QualityReport | None


NAME_HINTS = {
    "initials": "Enough where the report leaves the practice.",
    "full": "Everybody's name stands in the report.",
}


@router.get(HERE)
def list_reports(request: Request, scope: ReadingDep, actor: CurrentActor, asked: AskedReview) -> Response:
    """The signed reports."""
    rows = signed_reports(scope, actor)
    view = ReportsView(
        heading="Signed quality reports",
        places=places(actor, asked, HERE),
        reports=_lines(rows, names_of_signers(scope, rows)),
    )
    return render(request, "pages/reports.html", view)


def _lines(rows: Sequence[SignedReport], names: Mapping[str, str]) -> list[SignedLine]:
    return [
        SignedLine(
            id=row.id,
            period=Period(first=row.first, last=row.last).text,
            signed_by=names.get(row.signed_by, ""),
            signed_at=row.signed_at,
            sha256=row.pdf_sha256,
        )
        for row in rows
    ]


@router.get(f"{HERE}/new")
def new_report(request: Request, actor: CurrentActor, asked: AskedReview) -> Response:
    """The form of a new report."""
    values = {
        "first": f"{asked.period.first:%Y-%m}",
        "last": f"{asked.period.last:%Y-%m}",
        "names": "initials",
        "conclusions": "",
        "actions": "",
        "previewed": "",
    }
    return _form(request, actor, asked, values)


def _form(
    request: Request,
    actor: Actor,
    asked: AskedReview,
    values: Mapping[str, str],
    errors: tuple[FieldError, ...] = (),
    report: QualityReport | None = None,
) -> Response:
    view = DraftView(
        heading="New quality report",
        errors=errors,
        places=places(actor, asked, HERE),
        values=values,
        names=tuple((code, NAMES[code], NAME_HINTS[code]) for code in ("initials", "full")),
        report=report,
    )
    return render(request, "pages/report_new.html", view, status=422 if errors else 200)


def _asked_for(form: PostedForm, *, empty: bool) -> tuple[Period, Written]:
    period = checked_period_of_report(form.text("first"), form.text("last"), today=date.today())
    return period, checked_writing(form.text("conclusions"), form.text("actions"), form.text("names"), empty=empty)


@router.post(f"{HERE}/new")
def draft_or_sign(
    request: Request, store: StoreDep, actor: CurrentActor, asked: AskedReview, form: Posted
) -> Response:
    """Look at the report (``do`` is look), take its draft away as PDF (pdf), or sign it (sign)."""
    values = {name: _showable(form.text(name)) for name in FIELDS}
    do = form.text("do", "look")
    try:
        period, written = _asked_for(form, empty=do != "sign")
        if do == "sign":
            row = sign_quality_report(store, actor, period, written, report_charts, previewed=values["previewed"])
            return go_to(f"{HERE}/{row.id}", "report-signed")
        draft = draft_report(store, actor, period, written, report_charts)
    except InputError as error:
        return _again(request, store, actor, asked, values, form, error)
    if do == "pdf":
        return attachment(f"draft-{period.first:%Y-%m}-{period.last:%Y-%m}.pdf", report_pdf(draft.report))
    return _form(request, actor, asked, values | {"previewed": draft.digest}, report=draft.report)


def _showable(text: str) -> str:
    """What was typed, without what no page can show; what is wrong with it is told at its field."""
    return "".join(letter for letter in text if letter.isprintable() or letter in "\r\n\t")


def _again(
    request: Request,
    store: Store,
    actor: Actor,
    asked: AskedReview,
    values: Mapping[str, str],
    form: PostedForm,
    error: InputError,
) -> Response:
    """The form with what is wrong; the preview stands beneath it wherever it can be made."""
    errors = errors_of(error, *(each for each in FIELDS if each != "previewed"))
    if error.path == "previewed":
        errors = (FieldError(field="", message=error.message),)
    try:
        period, written = _asked_for(form, empty=True)
        draft = draft_report(store, actor, period, written, report_charts)
    except InputError:
        return _form(request, actor, asked, values, errors)
    return _form(request, actor, asked, {**values, "previewed": draft.digest}, errors, draft.report)


@router.get(f"{HERE}/{{report_id}}.pdf")
def show_file(report_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """The file as it was signed."""
    row, pdf = signed_file(store, actor, report_id)
    return attachment(f"quality-report-{row.first:%Y-%m}-{row.last:%Y-%m}.pdf", pdf)


@router.get(f"{HERE}/{{report_id}}")
def show_report(
    request: Request, report_id: str, store: StoreDep, scope: ReadingDep, actor: CurrentActor, asked: AskedReview
) -> Response:
    """What a signed report said in short, with its file."""
    row, pdf = signed_file(store, actor, report_id)
    said: dict[str, Any] = row.figures
    line = _lines([row], names_of_signers(scope, [row]))[0]
    view = SignedView(
        heading=f"Quality report, {line.period}",
        places=places(actor, asked, HERE),
        line=line,
        summary=said.get("summary", []),
        conclusions=said.get("conclusions", []),
        actions=said.get("actions", []),
        byte_count=len(pdf),
    )
    return render(request, "pages/report_signed.html", view)
