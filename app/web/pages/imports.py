"""Importing patients: hand in, say what is what, check, confirm; and undo."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.core.errors import InputError
from app.exchange.csv_reading import MAX_BYTES
from app.exchange.csv_writing import csv_bytes
from app.storage.imports import PatientImport, rows_of
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.files_out import attachment
from app.web.notes import go_to
from app.web.pages.import_views import (
    STATUS,
    DatesView,
    ImportLine,
    ImportsView,
    check_view,
    columns_view,
    date_questions,
    done_view,
    told_of,
)
from app.web.rendering import FieldError, errors_of, render
from app.work.imports import (
    StagedImport,
    choose_columns,
    choose_orders,
    choose_reading,
    discard_import,
    imports_of,
    plan_of,
    stage_file,
    staged_import,
)
from app.work.imports_columns import FIELDS
from app.work.imports_confirm import PlanChanged, confirm_import
from app.work.imports_undo import undo_import

router = APIRouter(include_in_schema=False)

FIELD_NAMES = tuple(field.key for field in FIELDS)
READING = ("encoding", "delimiter")


def csv_answer(name: str, data: bytes) -> Response:
    """A list to keep."""
    return attachment(name, data)


@router.get("/imports")
def show_imports(request: Request, scope: ReadingDep) -> Response:
    """The form for a file, and what was imported before."""
    return _imports(request, scope)


def _imports(
    request: Request, scope: PracticeScope, errors: tuple[FieldError, ...] = (), status: int = 200
) -> Response:
    lines = [ImportLine(row=row, status=STATUS[row.status], told=told_of(row)) for row in imports_of(scope)]
    view = ImportsView(heading="Import patients", errors=errors, imports=lines)
    return render(request, "pages/import_list.html", view, status=status)


@router.post("/imports")
def hand_in(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Take a file in and go on to its columns."""
    files = form.files("file")
    try:
        if not files:
            raise InputError("file", "no file was chosen. Choose the file that holds the table")
        data = files[0].file.read(MAX_BYTES + 1)
        with store.writing(actor.practice_id) as scope:
            import_id = stage_file(scope, actor, data=data, file_name=files[0].filename or "").id
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            return _imports(request, scope, errors_of(error, "file"), status=422)
    return go_to(f"/imports/{import_id}")


@router.get("/imports/{import_id}")
def show_import(request: Request, import_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Where the import stands: its columns while it waits, what it did afterwards."""
    row = scope.get(PatientImport, import_id, "import")
    if row.status == "staged":
        return _columns(request, scope, staged_import(scope, actor, import_id, today=date.today()))
    view = done_view(row, list(rows_of(scope, import_id)))
    return render(request, "pages/import_done.html", view)


def _columns(
    request: Request,
    scope: PracticeScope,
    staged: StagedImport,
    errors: tuple[FieldError, ...] = (),
    values: dict[str, str] | None = None,
) -> Response:
    same = [each for each in imports_of(scope) if each.sha256 == staged.row.sha256 and each.status == "imported"]
    again = same[0].imported_on.isoformat() if same and same[0].imported_on else ""
    more: dict[str, object] = {"errors": errors}
    view = columns_view(staged, again, **more)
    if values is not None:
        view.values.update(values)
    return render(request, "pages/import_columns.html", view, status=422 if errors else 200)


@router.post("/imports/{import_id}/reading")
def read_otherwise(
    request: Request, import_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Have the file read with another encoding, delimiter or first line."""
    today = date.today()
    try:
        with store.writing(actor.practice_id) as scope:
            choose_reading(
                scope,
                actor,
                import_id,
                encoding=form.text("encoding"),
                delimiter=form.text("delimiter"),
                has_header=form.text("has_header", "yes") == "yes",
            )
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            staged = staged_import(scope, actor, import_id, today=today)
            return _columns(request, scope, staged, errors_of(error, *READING))
    return go_to(f"/imports/{import_id}")


@router.post("/imports/{import_id}/columns")
def keep_columns(request: Request, import_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep which column is which, and go on."""
    today = date.today()
    values = {name: form.text(name) for name in FIELD_NAMES}
    try:
        with store.writing(actor.practice_id) as scope:
            questions = choose_columns(scope, actor, import_id, columns=dict(values), today=today)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            staged = staged_import(scope, actor, import_id, today=today)
            return _columns(request, scope, staged, errors_of(error, *FIELD_NAMES), values)
    return go_to(f"/imports/{import_id}/{'dates' if questions else 'check'}")


@router.get("/imports/{import_id}/dates")
def show_dates(request: Request, import_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Ask which of day and month stands first."""
    today = date.today()
    staged = staged_import(scope, actor, import_id, today=today)
    if not staged.chosen:
        return go_to(f"/imports/{import_id}")
    questions = date_questions(staged, today)
    view = DatesView(heading=f"Dates of {staged.row.file_name}", row=staged.row, questions=questions)
    return render(request, "pages/import_dates.html", view)


@router.post("/imports/{import_id}/dates")
def keep_dates(request: Request, import_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep the answer, and go on."""
    today = date.today()
    orders = {name: form.text(name) for name in FIELD_NAMES}
    try:
        with store.writing(actor.practice_id) as scope:
            choose_orders(scope, actor, import_id, orders=orders, today=today)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            staged = staged_import(scope, actor, import_id, today=today)
        view = DatesView(
            heading=f"Dates of {staged.row.file_name}",
            errors=errors_of(error, *FIELD_NAMES),
            row=staged.row,
            questions=date_questions(staged, today),
        )
        return render(request, "pages/import_dates.html", view, status=422)
    return go_to(f"/imports/{import_id}/check")


@router.get("/imports/{import_id}/check")
def show_check(request: Request, import_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """What importing would do: every bad line, every change."""
    return _check(request, scope, actor, import_id)


def _check(
    request: Request, scope: PracticeScope, actor: CurrentActor, import_id: str, error: str = ""
) -> Response:
    today = date.today()
    staged = staged_import(scope, actor, import_id, today=today)
    if not staged.chosen:
        return go_to(f"/imports/{import_id}")
    if staged.questions:
        return go_to(f"/imports/{import_id}/dates")
    staged, plan = plan_of(scope, actor, import_id, today=today)
    errors = (FieldError(field="", message=error),) if error else ()
    view = check_view(staged, plan, today, errors)
    return render(request, "pages/import_check.html", view, status=409 if error else 200)


@router.post("/imports/{import_id}/confirm")
def confirm(request: Request, import_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Import what was shown; where patients have changed since, show it anew."""
    try:
        with store.writing(actor.practice_id) as scope:
            confirm_import(scope, actor, import_id, fingerprint=form.text("fingerprint"), today=date.today())
    except PlanChanged as changed:
        with store.reading(actor.practice_id) as scope:
            return _check(request, scope, actor, import_id, f"{changed}.")
    return go_to(f"/imports/{import_id}", "imported")


@router.get("/imports/{import_id}/bad-lines.csv")
def bad_lines(import_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The bad lines as a table, to be mended where the file came from."""
    _, plan = plan_of(scope, actor, import_id, today=date.today())
    rows = [(each.line, each.field, each.reason) for each in plan.bad]
    return csv_answer("bad-lines.csv", csv_bytes(["line", "field", "reason"], rows))


@router.post("/imports/{import_id}/discard")
def discard(import_id: str, actor: CurrentActor, store: StoreDep) -> RedirectResponse:
    """The waiting file goes."""
    with store.writing(actor.practice_id) as scope:
        discard_import(scope, actor, import_id)
    return go_to("/imports", "import-discarded")


@router.post("/imports/{import_id}/undo")
def undo(import_id: str, actor: CurrentActor, store: StoreDep) -> RedirectResponse:
    """Take the whole import back."""
    with store.writing(actor.practice_id) as scope:
        undo_import(scope, actor, import_id, today=date.today())
    return go_to(f"/imports/{import_id}", "import-undone")
