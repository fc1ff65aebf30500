"""The page that the assistant works on, and the part of it that is asked for again after each action."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.dependencies import CurrentActor, ReadingDep, ShownNumbering
from app.web.pages.chairside_board import board_of
from app.web.pages.chairside_facts import series_facts
from app.web.rendering import render

router = APIRouter(include_in_schema=False)


@router.get("/series/{series_id}")
def series_page(
    request: Request,
    series_id: str,
    scope: ReadingDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    target: str = "",
    image: str = "",
    slot: str = "",
) -> Response:
    """A series: verdict, mount, chart, plan; and the answer about what was touched."""
    facts = series_facts(scope, series_id, numbering)
    board = board_of(facts, actor.staff_id, target=target, image=image, slot=slot)
    return render(request, "pages/chairside_series.html", board)


@router.get("/series/{series_id}/fragment")
def series_fragment(
    request: Request,
    series_id: str,
    scope: ReadingDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    target: str = "",
    image: str = "",
    slot: str = "",
) -> Response:
    """The same without what stands around it, for the page's own script."""
    facts = series_facts(scope, series_id, numbering)
    board = board_of(facts, actor.staff_id, target=target, image=image, slot=slot)
    return render(request, "parts/chairside_board.html", board)
