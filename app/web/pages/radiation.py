"""Exposures and retakes as count and as estimated dose, and the form for the collimation of each room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import col

from app.core.errors import InputError
from app.core.quality.dose import DoseTable
from app.exchange.dose_data import dose_table
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, StoreDep
from app.web.notes import go_to
from app.web.pages.quality_address import Asked, AskedReview, ReviewScope, filters
from app.web.pages.quality_places import ReviewView, above
from app.web.rendering import FieldError, errors_of, render
from app.web.seen.practice import seen_values
from app.work.actor import DENTISTS, Actor
from app.work.overtaken import Seen
from app.work.quality_refresh import bring_up_to_date
from app.work.radiation import Radiation, choose_collimation, collimations, radiation_of

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class RadiationView(ReviewView):
    """The page.

    Parameters
    ----------
    rooms : id, name and chosen collimation of each room in use; empty for those who choose nothing
    """

    radiation: Radiation
    chooses: bool
    practice_beam: str
    rooms: tuple[tuple[str, str, str], ...]
    beams: tuple[tuple[str, str], ...]
    table: DoseTable


HERE = "/quality/radiation"
BEAMS = (("", "not known"), ("rectangular", "rectangular"), ("round", "round"))


def _view(
    scope: PracticeScope,
    actor: Actor,
    asked: Asked,
    errors: tuple[FieldError, ...] = (),
    given: Mapping[str | None, str] | None = None,
    opened: str | None = None,
) -> RadiationView:
    chooses = actor.may(DENTISTS)
    rooms = scope.all(scope.select(Room).where(col(Room.retired).is_(False)).order_by(col(Room.name)))
    chosen = given if given is not None else collimations(scope)
    return RadiationView(
        heading="Radiation",
        errors=errors,
        opened=opened_field(_seen(scope)) if opened is None else opened,
        frame=above(scope, actor, asked, HERE, filters(scope, asked, HERE, by_operator=False)),
        radiation=radiation_of(scope, actor, asked.period),
        chooses=chooses,
        practice_beam=chosen.get(None, ""),
        rooms=tuple((each.id, each.name, chosen.get(each.id, "")) for each in rooms) if chooses else (),
        beams=BEAMS,
        table=dose_table(),
    )


def _seen(scope: PracticeScope) -> Seen:
    """What limits the beam, in the practice and in each room in use."""
    chosen = collimations(scope)
    rooms = scope.all(scope.select(Room).where(col(Room.retired).is_(False)).order_by(col(Room.name)))
    fields = {"practice": chosen.get(None, "")} | {f"room:{each.id}": chosen.get(each.id, "") for each in rooms}
    labels = {"practice": "In every room"} | {f"room:{each.id}": each.name for each in rooms}
    return seen_values(fields, labels, None)


@router.get(HERE)
def show_radiation(request: Request, scope: ReviewScope, actor: CurrentActor, asked: AskedReview) -> Response:
    """Count and estimated dose of a period."""
    return render(request, "pages/radiation.html", _view(scope, actor, asked))


@router.post(HERE)
def keep_collimation(
    request: Request, store: StoreDep, actor: CurrentActor, asked: AskedReview, form: Posted
) -> Response:
    """Keep the collimation of the practice and its rooms."""
    rooms = {name.removeprefix("room:"): form.text(name) for name in form.names() if name.startswith("room:")}
    try:
        with store.writing(actor.practice_id) as scope:
            check_overtaken(scope, form, _seen(scope), back=HERE)
            choose_collimation(scope, actor, practice=form.text("practice"), rooms=rooms)
    except InputError as error:
        bring_up_to_date(store, actor.practice_id)
        with store.reading(actor.practice_id) as scope:
            view = _view(
                scope,
                actor,
                asked,
                errors_of(error, "practice", *(f"room:{each}" for each in rooms)),
                opened=form.text(OPENED),
            )
        return render(request, "pages/radiation.html", view, status=422)
    return go_to(HERE, "collimation-kept")
