"""Retakes: ordered from the plan with one tap, and withdrawn while they wait."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.web.dependencies import CurrentActor, Posted, ShownNumbering, StoreDep
from app.web.notes import go_to
from app.web.pages.chairside_board import board_of, on_the_whole
from app.web.pages.chairside_facts import series_facts
from app.web.rendering import render
from app.work.retakes import order_retake, withdraw_order

router = APIRouter(include_in_schema=False)


@router.post("/series/{series_id}/retakes")
def order(
    request: Request,
    series_id: str,
    store: StoreDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Order one more exposure of a ``slot``, for a ``reason``, ``authorised_by`` a dentist."""
    slot = form.text("slot")
    try:
        with store.writing(actor.practice_id) as scope:
            order_retake(
                scope,
                actor,
                series_id,
                slot=slot,
                authorised_by=form.text("authorised_by"),
                reason=form.text("reason"),
            )
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            facts = series_facts(scope, series_id, numbering)
            board = board_of(facts, actor.staff_id, errors=on_the_whole(error))
        return render(request, "pages/chairside_series.html", board, status=422)
    return go_to(f"/series/{series_id}?slot={slot}#plan", "retake-ordered")


@router.post("/retakes/{order_id}/withdraw")
def withdraw(order_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Take an order back."""
    with store.writing(actor.practice_id) as scope:
        series_id = withdraw_order(scope, actor, order_id).series_id
    return go_to(f"/series/{series_id}#plan", "retake-withdrawn")
