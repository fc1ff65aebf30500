"""What the practice has chosen: policies, rooms and receptors, staff, and how files find their slots."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.core.errors import InputError
from app.core.templates import RECEPTOR_SIZES_MM
from app.exchange.shared_data import Criterion, criteria
from app.storage.practice import Practice, Receptor, Room
from app.storage.practice_scope import PracticeScope
from app.web.access import roles_for
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_policies
from app.work.actor import DENTISTS, EVERYBODY, Actor
from app.work.practice import RECEPTOR_KINDS, add_receptor, add_room, retire_equipment, save_practice

router = APIRouter(include_in_schema=False)

POLICIES = ("name", "numbering", "posterior_contacts", "bone_beyond_apex_mm", "upper_canine_lateral")

NUMBERINGS = [
    ("iso3950", "ISO 3950, two digits", "16, 46; primary teeth 55, 85"),
    ("universal", "Universal, 1 to 32", "3, 30; primary teeth A, T"),
    ("quadrant", "Quadrant and count", "UR6, LR6; primary teeth URE, LRE"),
]
POSTERIOR_CONTACTS = [
    ("any", "On any view that shows them open", "An open contact on a periapical counts too."),
    (
        "bitewing",
        "On bitewings only",
        "Contacts distal to the canines, where the template has bitewings that show them.",
    ),
]


PLACES = (
    ("Policies", "/practice"),
    ("Staff", "/practice/staff"),
    ("Log-ins", "/practice/log-ins"),
    ("Rooms and receptors", "/practice/rooms"),
    ("Loading images", "/practice/loading"),
    ("Trail", "/trail"),
    ("Backups", "/backups"),
    ("Keeping and erasing", "/retention"),
)


def places(here: str, actor: Actor) -> list[tuple[str, str, bool]]:
    """The pages of the practice's settings that are open to this person, as the part `within` takes them."""
    open_to = [
        (title, address)
        for title, address in PLACES
        # Policies lead an administrator on to the staff: no place of theirs.
        if actor.may(DENTISTS if address == "/practice" else roles_for("GET", address) or EVERYBODY)
    ]
    # One place alone is no choice.
    return [(title, address, address == here) for title, address in open_to] if len(open_to) > 1 else []


@dataclass(frozen=True, kw_only=True)
class PoliciesView(View):
    """The practice's name and policies."""

    places: list[tuple[str, str, bool]]
    values: dict[str, str]
    numberings: list[tuple[str, str, str]]
    posterior_contacts: list[tuple[str, str, str]]
    criteria: dict[str, Criterion]


@dataclass(frozen=True, kw_only=True)
class ReceptorLine:
    """A receptor in the list."""

    id: str
    name: str
    kind: str
    size: str
    retired: bool


@dataclass(frozen=True, kw_only=True)
class RoomLine:
    """A room in the list."""

    id: str
    name: str
    retired: bool


@dataclass(frozen=True, kw_only=True)
class RoomsView(View):
    """Rooms and receptors, and the forms for more."""

    places: list[tuple[str, str, bool]]
    rooms: list[RoomLine]
    receptors: list[ReceptorLine]
    kinds: list[tuple[str, str]]
    sizes: list[tuple[str, str]]
    values: dict[str, str]


def _size(size: int) -> str:
    short, long = RECEPTOR_SIZES_MM[size]
    return f"{size} ({short} × {long} mm)"


def _policies(
    actor: Actor, values: dict[str, str], opened: str, errors: tuple[FieldError, ...] = ()
) -> PoliciesView:
    return PoliciesView(
        heading="Practice",
        errors=errors,
        opened=opened,
        places=places("/practice", actor),
        values=values,
        numberings=NUMBERINGS,
        posterior_contacts=POSTERIOR_CONTACTS,
        criteria=criteria(),
    )


def _values_of(practice: Practice) -> dict[str, str]:
    return {name: str(getattr(practice, name)) for name in POLICIES}


@router.get("/practice")
def show_policies(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Name and policies as they are; whoever only administers is led to the staff."""
    if not actor.may(DENTISTS):
        return RedirectResponse("/practice/staff", status_code=303)
    practice = scope.practice()
    view = _policies(actor, _values_of(practice), opened_field(seen_policies(practice, POLICIES)))
    return render(request, "pages/practice_policies.html", view)


@router.post("/practice")
def keep_policies(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep them for the series to come."""
    values = {name: form.text(name) for name in POLICIES}
    try:
        with store.writing(actor.practice_id) as scope:
            check_overtaken(scope, form, seen_policies(scope.practice(), POLICIES), back="/practice")
            save_practice(scope, actor, **values)
    except InputError as error:
        view = _policies(actor, values, form.text(OPENED), errors_of(error, *POLICIES))
        return render(request, "pages/practice_policies.html", view, status=422)
    return go_to("/practice", "settings-kept")


def _rooms(
    scope: PracticeScope,
    actor: Actor,
    values: dict[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
) -> RoomsView:
    return RoomsView(
        heading="Rooms and receptors",
        errors=errors,
        places=places("/practice/rooms", actor),
        rooms=[
            RoomLine(id=each.id, name=each.name, retired=each.retired)
            for each in scope.all(scope.select(Room).order_by(Room.name))
        ],
        receptors=[
            ReceptorLine(
                id=each.id,
                name=each.name,
                kind=RECEPTOR_KINDS.get(each.kind, each.kind),
                size=_size(each.size),
                retired=each.retired,
            )
            for each in scope.all(scope.select(Receptor).order_by(Receptor.name))
        ],
        kinds=[("", "Choose a kind"), *RECEPTOR_KINDS.items()],
        sizes=[("", "Choose a size")] + [(str(size), _size(size)) for size in RECEPTOR_SIZES_MM],
        values={"room_name": "", "receptor_name": "", "receptor_kind": "", "receptor_size": ""} | (values or {}),
    )


@router.get("/practice/rooms")
def show_rooms(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Rooms and receptors."""
    return render(request, "pages/practice_rooms.html", _rooms(scope, actor))


@router.post("/practice/rooms")
def new_room(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A further room."""
    name = form.text("room_name")
    try:
        with store.writing(actor.practice_id) as scope:
            add_room(scope, actor, name)
    except InputError as error:
        return _rooms_again(request, actor, store, {"room_name": name}, error)
    return go_to("/practice/rooms", "room-kept")


@router.post("/practice/receptors")
def new_receptor(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A further receptor."""
    values = {name: form.text(name) for name in ("receptor_name", "receptor_kind", "receptor_size")}
    try:
        with store.writing(actor.practice_id) as scope:
            add_receptor(
                scope,
                actor,
                name=values["receptor_name"],
                kind=values["receptor_kind"],
                size=values["receptor_size"],
            )
    except InputError as error:
        return _rooms_again(request, actor, store, values, error)
    return go_to("/practice/rooms", "receptor-kept")


def _rooms_again(
    request: Request, actor: CurrentActor, store: StoreDep, values: dict[str, str], error: InputError
) -> Response:
    with store.reading(actor.practice_id) as scope:
        view = _rooms(scope, actor, values, errors_of(error, *values))
    return render(request, "pages/practice_rooms.html", view, status=422)


@router.post("/practice/rooms/{room_id}/retire")
def retire_room(room_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Off the lists, or back on them."""
    with store.writing(actor.practice_id) as scope:
        retire_equipment(scope, actor, scope.get(Room, room_id, "room").id, retired=form.text("retired") == "yes")
    return go_to("/practice/rooms", "room-kept")


@router.post("/practice/receptors/{receptor_id}/retire")
def retire_receptor(receptor_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Off the lists, or back on them."""
    with store.writing(actor.practice_id) as scope:
        receptor = scope.get(Receptor, receptor_id, "receptor")
        retire_equipment(scope, actor, receptor.id, retired=form.text("retired") == "yes")
    return go_to("/practice/rooms", "receptor-kept")
