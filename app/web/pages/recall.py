"""The recall list: overdue, due now and due soon; its filters stand in the address, and it is seen live."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.rendering import View, render
from app.work.actor import DENTISTS, DESK, Actor
from app.work.recall_contacts import OUTCOMES
from app.work.recall_filter import CONTACTS, KINDS, RISK_CHOICES, SORTS, WHENS, RecallFilter
from app.work.recall_holds import HOLD_KINDS
from app.work.recall_list import RecallPage, Source, recall_page, source_of_table
from app.work.recall_recompute import stale_count
from app.work.recall_upkeep import catch_up

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of the list, to go to."""

    title: str
    count: int
    address: str
    here: bool


@dataclass(frozen=True, kw_only=True)
class RowsView:
    """The lines of a page alone: what is asked for again while somebody looks."""

    page: RecallPage
    empty: str
    outcomes: dict[str, str]
    holds: dict[str, str]
    kinds: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class RecallView(View):
    """The list with its filters.

    Parameters
    ----------
    waiting : lines that still wait to be worked out anew
    earlier, later : addresses of the pages before and after; empty at the ends
    """

    places: list[tuple[str, str, bool]]
    asked: RecallFilter
    parts: list[Part]
    choices: dict[str, list[tuple[str, str]]]
    rows: RowsView
    source: Source
    waiting: int
    fragment: str
    earlier: str
    later: str
    dentist: bool
    may_export: bool


def places(here: str, actor: Actor) -> list[tuple[str, str, bool]]:
    """The pages of the recall, as the part `within` takes them."""
    pages = [("Work list", "/recall"), ("Letters and messages", "/letters")]
    if actor.may(DENTISTS):
        pages.append(("Tables of intervals", "/recall/policies"))
    return [(title, address, address == here) for title, address in pages]


def page_number(request: Request) -> int:
    """The page asked for; the first where the address names none that can be."""
    text = request.query_params.get("page", "1")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 8 else 1


def rows_view(scope: PracticeScope, request: Request, actor: Actor) -> tuple[RecallFilter, RowsView]:
    """The lines that the address asks for."""
    asked = RecallFilter.from_query(request.query_params)
    page = recall_page(scope, asked, date.today(), page_number(request), staff_id=actor.staff_id)
    empty = "Nobody is in this part of the list with these filters."
    if asked.words:
        empty = "Nobody found by that name or chart number."
    return asked, RowsView(page=page, empty=empty, outcomes=OUTCOMES, holds=HOLD_KINDS, kinds=KINDS)


@router.get("/recall")
def show_recall(request: Request, store: StoreDep, actor: CurrentActor) -> Response:
    """One page of the list, as far as it could be brought up to date in about a second."""
    catch_up(store, actor.practice_id, date.today())
    with store.reading(actor.practice_id) as scope:
        view = _view(request, scope, actor)
    return render(request, "pages/recall_list.html", view)


def _view(request: Request, scope: PracticeScope, actor: Actor) -> RecallView:
    asked, rows = rows_view(scope, request, actor)
    page = rows.page
    everyone = [("", "all")]
    return RecallView(
        heading="Recall",
        places=places("/recall", actor),
        asked=asked,
        parts=[
            Part(
                title=title,
                count=page.counts[when],
                address="/recall?" + asked.to_query(when=when, words=""),
                here=when == asked.when and not asked.words,
            )
            for when, title in WHENS.items()
        ],
        choices={
            "risk": everyone + list(RISK_CHOICES.items()),
            "kind": everyone + list(KINDS.items()),
            "contact": everyone + list(CONTACTS.items()),
            "sort": list(SORTS.items()),
        },
        rows=rows,
        source=source_of_table(scope),
        waiting=stale_count(scope, date.today()),
        fragment="/recall/fragment?" + asked.to_query(page=str(page.page)),
        earlier="/recall?" + asked.to_query(page=str(page.page - 1)) if page.page > 1 else "",
        later="/recall?" + asked.to_query(page=str(page.page + 1)) if page.page < page.pages else "",
        dentist=actor.may(DENTISTS),
        may_export=actor.may(DESK),
    )


@router.get("/recall/fragment")
def show_rows(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The lines alone, as they stand now."""
    _, rows = rows_view(scope, request, actor)
    return render(request, "parts/recall_rows.html", rows)


@router.post("/recall/up-to-date")
def bring_up_to_date(actor: CurrentActor, store: StoreDep) -> Response:
    """Work out a further step of the lines that wait."""
    catch_up(store, actor.practice_id, date.today())
    return go_to("/recall", "recall-worked-out")
