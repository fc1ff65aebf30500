"""Who works here: added, log-ins closed and opened, forgotten passwords replaced."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.practice import places
from app.web.rendering import FieldError, View, errors_of, render
from app.work.accounts import add_staff, retire_staff, set_password
from app.work.actor import ROLE_NAMES, Actor, Role

router = APIRouter(include_in_schema=False)

FIELDS = ("name", "login", "role")

ROLE_HINTS = {
    Role.ASSISTANT: "Takes series, reviews images, closes what is complete.",
    Role.DENTIST: "Prescribes, authorises retakes, sets up the practice; and all that an assistant does.",
    Role.FRONT_DESK: "Registers patients; sees no images.",
    Role.ADMINISTRATOR: "Keeps log-ins, trail, backups and retention; sees no patient.",
}


@dataclass(frozen=True, kw_only=True)
class StaffLine:
    """A person in the list; ``me`` is the one who looks at it."""

    id: str
    name: str
    login: str
    role: str
    retired: bool
    me: bool


@dataclass(frozen=True, kw_only=True)
class StaffView(View):
    """Everybody, and the form for one more."""

    places: list[tuple[str, str, bool]]
    staff: list[StaffLine]
    roles: list[tuple[str, str, str]]
    values: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class StaffPasswordView(View):
    """A new password for a colleague."""

    staff_id: str
    name: str


def _view(
    scope: PracticeScope,
    actor: Actor,
    values: dict[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
) -> StaffView:
    return StaffView(
        heading="Staff",
        errors=errors,
        places=places("/practice/staff"),
        staff=[
            StaffLine(
                id=each.id,
                name=each.name,
                login=each.login,
                role=ROLE_NAMES[Role(each.role)],
                retired=each.retired,
                me=each.id == actor.staff_id,
            )
            for each in scope.all(scope.select(Staff).order_by(Staff.name))
        ],
        roles=[(role.value, name.capitalize(), ROLE_HINTS[role]) for role, name in ROLE_NAMES.items()],
        values={"name": "", "login": "", "role": "assistant"} | (values or {}),
    )


@router.get("/practice/staff")
def show_staff(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Everybody who works or worked here."""
    return render(request, "pages/practice_staff.html", _view(scope, actor))


@router.post("/practice/staff")
def new_staff(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A further person."""
    values = {name: form.text(name) for name in FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            add_staff(scope, actor, **values, password=form.text("password"))
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _view(scope, actor, values, errors_of(error, *FIELDS, "password"))
        return render(request, "pages/practice_staff.html", view, status=422)
    return go_to("/practice/staff", "staff-added")


@router.post("/practice/staff/{staff_id}/retire")
def retire(request: Request, staff_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Close a log-in, or open it again."""
    retired = form.text("retired") == "yes"
    try:
        with store.writing(actor.practice_id) as scope:
            retire_staff(scope, actor, staff_id, retired=retired)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _view(scope, actor, None, errors_of(error, *FIELDS))
        return render(request, "pages/practice_staff.html", view, status=422)
    return go_to("/practice/staff", "staff-retired" if retired else "staff-back")


@router.get("/practice/staff/{staff_id}/password")
def show_password(request: Request, staff_id: str, scope: ReadingDep) -> Response:
    """The form for a colleague's new password."""
    staff = scope.get(Staff, staff_id, "person")
    view = StaffPasswordView(heading=f"New password for {staff.name}", staff_id=staff.id, name=staff.name)
    return render(request, "pages/practice_password.html", view)


@router.post("/practice/staff/{staff_id}/password")
def replace_password(
    request: Request, staff_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Set it; whoever is logged in with the old one is logged out."""
    try:
        with store.writing(actor.practice_id) as scope:
            staff = scope.get(Staff, staff_id, "person")
            set_password(scope, actor, staff_id, form.text("password"))
    except InputError as error:
        view = StaffPasswordView(
            heading=f"New password for {staff.name}",
            errors=errors_of(error, "password"),
            staff_id=staff.id,
            name=staff.name,
        )
        return render(request, "pages/practice_password.html", view, status=422)
    return go_to("/practice/staff", "password-set")
