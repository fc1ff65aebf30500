"""A dentist takes a gap out of what a series must show, or asks for it again."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.web.dependencies import CurrentActor, Posted, ShownNumbering, StoreDep
from app.web.notes import go_to
from app.web.pages.chairside_board import board_of, on_the_whole
from app.web.pages.chairside_facts import series_facts
from app.web.rendering import render
from app.work.exempt import exempt_target, take_exemption_back

router = APIRouter(include_in_schema=False)


@router.post("/series/{series_id}/exemptions")
def exempt(
    request: Request,
    series_id: str,
    store: StoreDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Exempt a ``target`` for a ``reason``; with ``again`` ask for it again."""
    target = form.text("target")
    try:
        with store.writing(actor.practice_id) as scope:
            if form.flag("again"):
                take_exemption_back(scope, actor, series_id, target=target)
            else:
                exempt_target(scope, actor, series_id, target=target, reason=form.text("reason"))
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            facts = series_facts(scope, series_id, numbering)
            board = board_of(facts, actor.staff_id, target=target, errors=on_the_whole(error))
        return render(request, "pages/chairside_series.html", board, status=422)
    note = "asked-again" if form.flag("again") else "exempted"
    return go_to(f"/series/{series_id}?target={quote(target)}#chart-answer", note)
