"""Reviewing: one image large, what it promises beside it, and on to the next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from app.core.errors import InputError
from app.core.exposures import ShortfallCode
from app.core.numbering import Numbering
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow
from app.web.choice import OPENED, check_overtaken, opened_field, opened_of
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, ShownNumbering, StoreDep
from app.web.errors import wants_json
from app.web.notes import go_to
from app.web.pages.chairside_board import on_the_whole
from app.web.pages.chairside_facts import facts_of_exposure
from app.web.pages.chairside_review_view import looking_of, review_view
from app.web.rendering import render
from app.web.seen.chairside import ALL_SHOWN, NOT_ALL, review_fields, seen_review
from app.work.review import reopen_review, review_exposure, save_view
from app.work.start_series import open_series

router = APIRouter(include_in_schema=False)


@router.get("/exposures/{exposure_id}/review")
def review_page(request: Request, exposure_id: str, scope: ReadingDep, numbering: ShownNumbering) -> Response:
    """The review of an image; of a closed series to look at only."""
    facts, exposure = facts_of_exposure(scope, exposure_id, numbering)
    opened = opened_field(seen_review(facts, exposure))
    return render(request, "pages/chairside_review.html", replace(review_view(facts, exposure), opened=opened))


@router.post("/exposures/{exposure_id}/review")
def review(
    request: Request,
    exposure_id: str,
    store: StoreDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Keep a review and go on to the next image that waits for one.

    Fields: ``verdict`` (``all`` shown, or ``faults``); ``code:TARGET`` with the shortfall that took it;
    ``fault`` for a shortfall that took all it takes; ``also`` for targets seen besides.
    """
    try:
        shortfalls = _shortfalls(form)
        with store.writing(actor.practice_id) as scope:
            _check_unchanged(scope, exposure_id, numbering, form, shortfalls)
            also, why = form.texts("also"), form.text("reason")
            review_exposure(scope, actor, exposure_id, shortfalls=shortfalls, also_shows=also, reason=why)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            facts, exposure = facts_of_exposure(scope, exposure_id, numbering)
            view = replace(review_view(facts, exposure, on_the_whole(error)), opened=form.text(OPENED))
        return render(request, "pages/chairside_review.html", view, status=422)
    with store.reading(actor.practice_id) as scope:
        facts, exposure = facts_of_exposure(scope, exposure_id, numbering)
    waiting = facts.unreviewed
    if not waiting:
        return go_to(f"/series/{facts.row.id}", "all-reviewed")
    # On from here in template order; past the end, begin again with what was left out.
    order = {slot.id: number for number, slot in enumerate(facts.template.slots)}
    here = order.get(str(exposure.slot), -1)
    following = next((each for each in waiting if order[str(each.slot)] > here), waiting[0])
    return go_to(f"/exposures/{following.id}/review", "review-kept")


def _check_unchanged(
    scope: PracticeScope,
    exposure_id: str,
    numbering: Numbering,
    form: PostedForm,
    shortfalls: Sequence[Mapping[str, Any]],
) -> None:
    """Whether a colleague reviewed the image, or moved it, since the form was opened."""
    exposure = scope.get(ExposureRow, exposure_id, "image")
    open_series(scope, exposure.series_id)
    exposure = scope.held(ExposureRow, exposure_id, "image")
    opened = opened_of(form)
    slot = exposure.slot
    if opened is None or exposure.set_aside_reason is not None or slot is None:
        return
    facts, exposure = facts_of_exposure(scope, exposure_id, numbering)
    if opened.fields.get("?slot") != (slot,):
        raise InputError(
            "exposure",
            f"a colleague moved this image to {facts.template.slot(slot).title} meanwhile. "
            "Review it against what that slot promises",
        )
    verdict = NOT_ALL if shortfalls else ALL_SHOWN
    wanted = review_fields(facts, exposure, verdict, shortfalls, form.texts("also"))
    seen, back = seen_review(facts, exposure), f"/exposures/{exposure_id}/review"
    check_overtaken(scope, form, seen, back=back, wanted=wanted)


def _shortfalls(form: PostedForm) -> list[dict[str, Any]]:
    """What the form says is not shown: named targets by their code, and codes that took all they take."""
    if form.text("verdict") == "all":
        return []
    named: dict[str, list[str]] = {}
    for name in form.names():
        code = form.text(name) if name.startswith("code:") else ""
        if code:
            named.setdefault(code, []).append(name.removeprefix("code:"))
    whole = form.texts("fault")
    known = [code.value for code in ShortfallCode]
    codes = sorted({*named, *whole}, key=lambda code: known.index(code) if code in known else len(known))
    if not codes:
        raise InputError(
            "fault",
            "nothing is marked as not shown. Mark what is missing and choose why, or say that all is shown",
        )
    return [{"code": code, "targets": named[code]} if code in named else {"code": code} for code in codes]


@router.post("/exposures/{exposure_id}/reopen")
def reopen(exposure_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Take a review back."""
    with store.writing(actor.practice_id) as scope:
        reopen_review(scope, actor, exposure_id)
    return go_to(f"/exposures/{exposure_id}/review", "review-reopened")


@router.post("/exposures/{exposure_id}/view")
def keep_view(request: Request, exposure_id: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Keep how an image is looked at; the grey window in per cent.

    A script sends only what was changed (and says so with ``some``): what a colleague set otherwise stays.
    """
    with store.writing(actor.practice_id) as scope:
        before = (
            looking_of(scope.held(ExposureRow, exposure_id, "image")) if form.flag("some") else looking_of(None)
        )
        sent = form.names()
        save_view(
            scope,
            actor,
            exposure_id,
            window_low=_share(form, "window_low") if "window_low" in sent else before.window_low,
            window_high=_share(form, "window_high") if "window_high" in sent else before.window_high,
            inverted=form.flag("inverted") if "inverted" in sent else before.inverted,
            quarter_turns=_whole(form, "quarter_turns") if "quarter_turns" in sent else before.quarter_turns,
            mirrored=form.flag("mirrored") if "mirrored" in sent else before.mirrored,
        )
    if wants_json(request):
        return JSONResponse({"kept": True})
    return go_to(f"/exposures/{exposure_id}/review", "view-kept")


def _share(form: PostedForm, name: str) -> float:
    text = form.text(name)
    try:
        return float(text) / 100
    except ValueError:
        raise InputError(name, f'"{text}" is no number. Enter a per cent from 0 to 100') from None


def _whole(form: PostedForm, name: str) -> int:
    text = form.text(name)
    if text not in ("0", "1", "2", "3"):
        raise InputError(name, f'"{text}" is no count of quarter turns. Choose 0, 1, 2 or 3')
    return int(text)
