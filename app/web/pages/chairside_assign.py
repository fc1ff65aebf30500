"""Which image was taken for which slot: the proposal shown before it is kept, and every later change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.core.templates import Slot
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow
from app.web.choice import OPENED, check_overtaken, opened_field, opened_of
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, ShownNumbering, StoreDep
from app.web.notes import go_to
from app.web.pages.chairside_board import Strip, on_the_whole, strip_of
from app.web.pages.chairside_facts import SeriesFacts, facts_of_exposure, series_facts
from app.web.pages.chairside_mount import ROW_TITLES, Film, film_of, where_in_mouth
from app.web.rendering import FieldError, View, render
from app.web.seen.chairside import places_wanted, seen_image, seen_places
from app.work.assign import keep_assignment, orientation_warning, propose_assignment, put_back, set_aside
from app.work.start_series import open_series

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class Placed:
    """One image with the slot that it is to have.

    Parameters
    ----------
    because : what the proposal rests on; empty for what was kept already or chosen by hand
    warning : what speaks against the slot, in words
    """

    film: Film
    slot: str
    because: str
    warning: str
    kept: bool


@dataclass(frozen=True, kw_only=True)
class Place:
    """A slot of the preview, with the images that are to stand in it."""

    slot: str
    title: str
    orientation: str
    size: int
    placed: tuple[Placed, ...]


@dataclass(frozen=True, kw_only=True)
class PlaceRow:
    """One row of the preview."""

    name: str
    title: str
    places: tuple[Place, ...]


@dataclass(frozen=True, kw_only=True)
class AssignView(View):
    """The proposal."""

    strip: Strip
    rows: tuple[PlaceRow, ...]
    tray: tuple[Placed, ...]
    images: tuple[Placed, ...]
    choices: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    breadth: str


BECAUSE_WORDS = {
    "file name": "by its file name",
    "retake ordered": "a retake was ordered here",
    "exposure order": "by the order of exposure",
    "no empty slot": "no slot is empty",
}


@router.get("/series/{series_id}/assign")
def assign_page(request: Request, series_id: str, scope: ReadingDep, numbering: ShownNumbering) -> Response:
    """The proposal for images without a slot, over what was kept already."""
    open_series(scope, series_id)
    facts = series_facts(scope, series_id, numbering)
    view = _view(facts, scope, {}, opened=opened_field(seen_places(facts)))
    return render(request, "pages/chairside_assign.html", view)


@router.post("/series/{series_id}/assign")
def assign(
    request: Request,
    series_id: str,
    store: StoreDep,
    actor: CurrentActor,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """Keep the assignment as chosen (fields ``slot:IMAGE``), or with ``preview`` only show it."""
    chosen = {
        name.removeprefix("slot:"): form.text(name) or None for name in form.names() if name.startswith("slot:")
    }
    if form.flag("preview"):
        with store.reading(actor.practice_id) as scope:
            open_series(scope, series_id)
            facts = series_facts(scope, series_id, numbering)
            view = _view(facts, scope, chosen, opened=form.text(OPENED))
        return render(request, "pages/chairside_assign.html", view)
    try:
        with store.writing(actor.practice_id) as scope:
            open_series(scope, series_id)
            _check_unchanged(scope, series_id, numbering, form, chosen)
            keep_assignment(scope, actor, series_id, chosen)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            facts = series_facts(scope, series_id, numbering)
            view = _view(facts, scope, chosen, on_the_whole(error), opened=form.text(OPENED))
        return render(request, "pages/chairside_assign.html", view, status=422)
    return go_to(f"/series/{series_id}", "assignment-kept")


def _check_unchanged(
    scope: PracticeScope, series_id: str, numbering: Numbering, form: PostedForm, chosen: Mapping[str, str | None]
) -> None:
    """Whether a colleague moved an image, or reviewed one that is to be moved, since the page was opened."""
    opened = opened_of(form)
    if opened is not None:
        seen = seen_places(series_facts(scope, series_id, numbering))
        wanted = places_wanted(chosen, opened.fields, seen)
        check_overtaken(scope, form, seen, back=f"/series/{series_id}/assign", wanted=wanted)


def _view(
    facts: SeriesFacts,
    scope: PracticeScope,
    chosen: Mapping[str, str | None],
    errors: tuple[FieldError, ...] = (),
    *,
    opened: str,
) -> AssignView:
    proposals = {each.exposure_id: each for each in propose_assignment(scope, facts.row.id)}
    images: list[Placed] = []
    for row in facts.counted:
        proposal = proposals.get(row.id)
        slot = chosen.get(row.id, proposal.slot if proposal is not None else row.slot)
        if slot is not None and not facts.template.has_slot(slot):
            slot = None
        image = facts.images[row.image_id]
        because = proposal.because if proposal is not None and proposal.slot == slot else ""
        images.append(
            Placed(
                film=film_of(facts, row),
                slot=slot or "",
                because=BECAUSE_WORDS.get(because, ""),
                warning=orientation_warning(image.width, image.height, facts.template.slot(slot)) if slot else "",
                kept=row.slot is not None and row.slot == slot,
            )
        )
    rows = _rows(facts, images)
    widest = max((len(each.places) for each in rows), default=0)
    return AssignView(
        heading="Which image for which slot",
        errors=errors,
        opened=opened,
        strip=strip_of(facts),
        rows=rows,
        tray=tuple(each for each in images if not each.slot),
        images=tuple(images),
        choices=tuple((slot.id, slot.title) for slot in facts.template.slots),
        warnings=tuple(f"Image {each.film.position}: {each.warning}" for each in images if each.warning),
        breadth="many" if widest > 7 else "usual",
    )


def _rows(facts: SeriesFacts, images: list[Placed]) -> tuple[PlaceRow, ...]:
    found: dict[str, list[tuple[float, Place]]] = {name: [] for name in ROW_TITLES}
    for slot in facts.template.slots:
        placed = tuple(each for each in images if each.slot == slot.id)
        if not slot.required and not placed:
            continue
        row, across = where_in_mouth(slot)
        found[row if slot.required else "further"].append((across, _place(slot, placed)))
    return tuple(
        PlaceRow(
            name=name,
            title=ROW_TITLES[name],
            places=tuple(place for _, place in sorted(places, key=lambda each: each[0])),
        )
        for name, places in found.items()
        if places
    )


def _place(slot: Slot, placed: tuple[Placed, ...]) -> Place:
    return Place(
        slot=slot.id,
        title=slot.title,
        orientation=slot.receptor.orientation if slot.receptor is not None else "landscape",
        size=slot.receptor.size if slot.receptor is not None else 2,
        placed=placed,
    )


@router.post("/exposures/{exposure_id}/move")
def move_image(exposure_id: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Give one image another slot; the image that stands there takes its place in return."""
    slot = form.text("slot") or None
    with store.writing(actor.practice_id) as scope:
        facts, exposure = _held(scope, exposure_id)
        check_overtaken(scope, form, seen_image(facts, exposure), back=_board(facts, exposure_id))
        moves = {exposure_id: slot}
        there = [each for each in facts.in_slot(slot) if each.retake_of is None] if slot is not None else []
        if there and exposure.slot is not None and there[0].id != exposure_id:
            moves[there[0].id] = exposure.slot
        keep_assignment(scope, actor, facts.row.id, moves)
    return go_to(f"/series/{facts.row.id}?image={exposure_id}", "image-moved")


def _held(scope: PracticeScope, exposure_id: str) -> tuple[SeriesFacts, ExposureRow]:
    """The image and its series, kept from others until the transaction ends."""
    open_series(scope, scope.get(ExposureRow, exposure_id, "image").series_id)
    scope.held(ExposureRow, exposure_id, "image")
    return facts_of_exposure(scope, exposure_id, Numbering.ISO3950)


def _board(facts: SeriesFacts, exposure_id: str) -> str:
    return f"/series/{facts.row.id}?image={exposure_id}"


@router.post("/exposures/{exposure_id}/set-aside")
def set_image_aside(exposure_id: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Set a file aside that is no exposure of this series; it is kept."""
    with store.writing(actor.practice_id) as scope:
        facts, exposure = _held(scope, exposure_id)
        check_overtaken(scope, form, seen_image(facts, exposure), back=_board(facts, exposure_id))
        exposure = set_aside(scope, actor, exposure_id, form.text("reason"))
        series_id = exposure.series_id
    return go_to(f"/series/{series_id}", "set-aside")


@router.post("/exposures/{exposure_id}/put-back")
def put_image_back(exposure_id: str, store: StoreDep, actor: CurrentActor) -> Response:
    """Count a file again that was set aside."""
    with store.writing(actor.practice_id) as scope:
        exposure = put_back(scope, actor, exposure_id)
        series_id = exposure.series_id
    return go_to(f"/series/{series_id}/assign", "put-back")
