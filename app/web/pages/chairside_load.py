"""Loading image files: each is taken or refused by itself, and says so."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.core.errors import FullcountError, InputError
from app.imaging.decode import ImageLimits
from app.imaging.errors import ImageRefused
from app.web.dependencies import (
    CurrentActor,
    ExaminerDep,
    Posted,
    PostedForm,
    SettingsDep,
    ShownNumbering,
    StoreDep,
)
from app.web.errors import wants_json
from app.web.notes import go_to
from app.web.pages.chairside_board import board_of
from app.web.pages.chairside_facts import series_facts
from app.web.pages.chairside_files import STATUS, FileResult
from app.web.rendering import FieldError, render
from app.work.incoming import (
    AlreadyHere,
    IncomingFile,
    LoadedImage,
    SameFileElsewhere,
    SameRadiographHere,
    TubeSettings,
    shown_name,
)
from app.work.load_images import load_images as record_files
from app.work.start_series import open_series

router = APIRouter(include_in_schema=False)


@router.post("/series/{series_id}/images")
def load_images(
    request: Request,
    series_id: str,
    store: StoreDep,
    settings: SettingsDep,
    examiner: ExaminerDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Take the files of a form (``files``), into a ``slot`` where one is named.

    A program gets one result for each file; a person gets the page again, with the results where a file was not
    taken.
    """
    with store.reading(actor.practice_id) as scope:
        open_series(scope, series_id)
    files = form.files("files")
    if not files:
        raise InputError("files", "no file was chosen. Choose at least one image file, then load it")
    files, beyond = files[: settings.max_files], files[settings.max_files :]
    slot = form.text("slot") or None
    sure = form.flag("sure")
    # One byte more than is taken: enough to be refused for its size, never the whole of a huge file.
    most = settings.max_upload_bytes + 1
    incoming = [
        IncomingFile(data=each.file.read(most), name=shown_name(each.filename or ""), slot=slot, sure=sure)
        for each in files
    ]
    limits = ImageLimits(max_bytes=settings.max_upload_bytes, max_pixels=settings.max_pixels)
    outcomes = record_files(
        store,
        actor,
        series_id,
        incoming,
        limits=limits,
        receptor_id=form.text("receptor"),
        tube=_tube(form),
        examiner=examiner,
    )
    results = [_result(file.name, outcome) for file, outcome in zip(incoming, outcomes, strict=True)]
    # Not read at all: what was taken before them stays.
    results += [_beyond(shown_name(each.filename or ""), settings.max_files) for each in beyond]
    if wants_json(request):
        status = STATUS[results[0].outcome] if len(results) == 1 else 200
        return JSONResponse({"results": [vars(each) for each in results]}, status_code=status)
    if all(each.outcome == "taken" for each in results):
        loose = any(not each.slot for each in results)
        return go_to(f"/series/{series_id}/assign" if loose else f"/series/{series_id}", "images-loaded")
    with store.reading(actor.practice_id) as scope:
        facts = series_facts(scope, series_id, numbering)
        problems = tuple(
            FieldError(field="files", message=f"{each.name}: {each.message}")
            for each in results
            if each.outcome != "taken"
        )
        board = board_of(facts, actor.staff_id, slot=slot or "", errors=problems, file_results=tuple(results))
    return render(request, "pages/chairside_series.html", board, status=422)


def _tube(form: PostedForm) -> TubeSettings:
    """How the tube was set, as far as it was written down."""
    return TubeSettings(
        kv=_number(form, "tube_kv"), ma=_number(form, "tube_ma"), seconds=_number(form, "exposure_seconds")
    )


def _number(form: PostedForm, name: str) -> float | None:
    text = form.text(name).strip()
    if not text:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(name, f'"{text}" is no number. Write a number above 0, or leave it open') from None


def _result(name: str, outcome: LoadedImage | FullcountError) -> FileResult:
    if isinstance(outcome, AlreadyHere):
        again = isinstance(outcome, SameRadiographHere)
        return FileResult(name=name, outcome="already", message=_sentence(outcome), asks=again)
    if isinstance(outcome, SameFileElsewhere):
        return FileResult(name=name, outcome="elsewhere", message=_sentence(outcome), asks=True)
    if isinstance(outcome, ImageRefused):
        return FileResult(name=name, outcome="refused", message=f"{outcome.what}. {outcome.mend}.")
    if isinstance(outcome, FullcountError):
        return FileResult(name=name, outcome="refused", message=_sentence(outcome))
    where = f"taken as image {outcome.exposure.position}."
    return FileResult(
        name=name,
        outcome="taken",
        message=" ".join((where, *outcome.notes)),
        exposure=outcome.exposure.id,
        slot=outcome.exposure.slot or "",
    )


def _beyond(name: str, most: int) -> FileResult:
    words = f"More than {most} files came at once, and this one was left out. Load it with the next."
    return FileResult(name=name, outcome="refused", message=words)


def _sentence(error: FullcountError) -> str:
    words = error.message if isinstance(error, InputError) else str(error)
    return words[:1].upper() + words[1:] + ("" if words.endswith(".") else ".")
