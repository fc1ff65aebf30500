"""Closing a series: at once when it is complete, else with a reason and under a dentist's name."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, ShownNumbering, StoreDep
from app.web.notes import go_to
from app.web.pages.chairside_board import Strip, on_the_whole, strip_of
from app.web.pages.chairside_facts import SeriesFacts, series_facts
from app.web.pages.chairside_words import brief_words
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.chairside import seen_closing
from app.work.close import close_series
from app.work.start_series import open_series

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class CloseView(View):
    """What closing asks for.

    Parameters
    ----------
    missing : what the series does not show, in words
    plan : the retakes that would close the gaps, in words; empty where there are none
    loose : images that keep the series open, in words
    """

    strip: Strip
    complete: bool
    missing: str
    plan: str
    loose: str
    reason: str
    dentist: str
    dentists: tuple[tuple[str, str], ...]


@router.get("/series/{series_id}/close")
def close_page(
    request: Request, series_id: str, scope: ReadingDep, actor: CurrentActor, numbering: ShownNumbering
) -> Response:
    """Ask before closing."""
    open_series(scope, series_id)
    facts = series_facts(scope, series_id, numbering)
    view = _view(facts, facts.usual_dentist(actor.staff_id), opened=opened_field(seen_closing(facts)))
    return render(request, "pages/chairside_close.html", view)


@router.post("/series/{series_id}/close")
def close(
    request: Request,
    series_id: str,
    store: StoreDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Close, and lead to the record."""
    dentist, reason = form.text("dentist"), form.text("reason")
    try:
        with store.writing(actor.practice_id) as scope:
            open_series(scope, series_id)
            seen = seen_closing(series_facts(scope, series_id, numbering))
            check_overtaken(scope, form, seen, back=f"/series/{series_id}/close")
            close_series(scope, actor, series_id, dentist_id=dentist, reason=reason)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            facts = series_facts(scope, series_id, numbering)
            at_field = error.path in ("reason", "dentist")
            errors = errors_of(error, "reason", "dentist") if at_field else on_the_whole(error)
            view = _view(facts, dentist, reason, errors, opened=form.text(OPENED))
        return render(request, "pages/chairside_close.html", view, status=422)
    return go_to(f"/series/{series_id}/record", "series-closed")


def _view(
    facts: SeriesFacts, dentist: str, reason: str = "", errors: tuple[FieldError, ...] = (), *, opened: str
) -> CloseView:
    audit = facts.audited.audit
    gaps = [gap.target for gap in audit.gaps]
    return CloseView(
        heading="Close the series",
        errors=errors,
        opened=opened,
        strip=strip_of(facts),
        complete=audit.verdict == "complete",
        missing=brief_words(gaps, facts.series) if gaps else "",
        plan=", ".join(facts.template.slot(each.slot).title for each in audit.plan.exposures),
        loose=", ".join(f"image {each.position}" for each in facts.loose),
        reason=reason,
        dentist=dentist,
        dentists=tuple(facts.dentists()),
    )
