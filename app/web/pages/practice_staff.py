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
from app.work.administrators import set_duty

router = APIRouter(include_in_schema=False)

FIELDS = ("name", "login", "role")

ROLE_HINTS = {
    Role.ASSISTANT: "Registers patients, takes series, reviews images, closes what is complete. Prescribes "
    "nothing; a retake, and closing what is incomplete, needs a dentist's name.",
    Role.DENTIST: "Prescribes, authorises retakes, signs off what stays incomplete, reviews quality, keeps "
    "policies, rooms and templates; and all that an assistant does.",
    Role.FRONT_DESK: "Registers patients, works the recall list and the calendar, writes letters. Sees no images.",
    Role.ADMINISTRATOR: "Keeps the log-ins and administers the program. Sees no patient, image or figure.",
}
"""What each role may do, as the form says it."""


@dataclass(frozen=True, kw_only=True)
class StaffLine:
    """A person in the list; ``me`` is the one who looks at it.

    Parameters
    ----------
    by_role, administers : an administrator by role, or beside another role
    """

    id: str
    name: str
    login: str
    role: str
    by_role: bool
    administers: bool
    retired: bool
    me: bool


@dataclass(frozen=True, kw_only=True)
class StaffView(View):
    """Everybody, and the form for one more."""

    places: list[tuple[str, str, bool]]
    staff: list[StaffLine]
    roles: list[tuple[str, str, str]]
    values: dict[str, str]
    administers: bool


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
    *,
    administers: bool = False,
) -> StaffView:
    return StaffView(
        heading="Staff",
        errors=errors,
        places=places("/practice/staff", actor),
        staff=[
            StaffLine(
                id=each.id,
                name=each.name,
                login=each.login,
                role=ROLE_NAMES[Role(each.role)],
                by_role=each.role == Role.ADMINISTRATOR,
                administers=each.administers,
                retired=each.retired,
                me=each.id == actor.staff_id,
            )
            for each in scope.all(scope.select(Staff).order_by(Staff.name))
        ],
        roles=[(role.value, name.capitalize(), ROLE_HINTS[role]) for role, name in ROLE_NAMES.items()],
        values={"name": "", "login": "", "role": "assistant"} | (values or {}),
        administers=administers,
    )


@router.get("/practice/staff")
def show_staff(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Everybody who works or worked here."""
    return render(request, "pages/practice_staff.html", _view(scope, actor))


@router.post("/practice/staff")
def new_staff(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A further person."""
    values, administers = {name: form.text(name) for name in FIELDS}, form.flag("administers")
    try:
        with store.writing(actor.practice_id) as scope:
            add_staff(scope, actor, **values, password=form.text("password"), administers=administers)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            errors = errors_of(error, *FIELDS, "password")
            view = _view(scope, actor, values, errors, administers=administers)
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
        return _refused(request, actor, store, error)
    return go_to("/practice/staff", "staff-retired" if retired else "staff-back")


@router.post("/practice/staff/{staff_id}/duty")
def change_duty(request: Request, staff_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Have a person administer the program beside their role, or no longer."""
    administers = form.text("administers") == "yes"
    try:
        with store.writing(actor.practice_id) as scope:
            set_duty(scope, actor, staff_id, administers=administers)
    except InputError as error:
        return _refused(request, actor, store, error)
    # Who gives their own duty away may not open this page any more.
    mine = staff_id == actor.staff_id and not administers
    return go_to("/" if mine else "/practice/staff", "duty-given" if administers else "duty-taken")


def _refused(request: Request, actor: Actor, store: StoreDep, error: InputError) -> Response:
    with store.reading(actor.practice_id) as scope:
        # What is wrong is no field of the form below: it is told above everything, as a sentence.
        words = error.message[:1].upper() + error.message[1:]
        view = _view(scope, actor, None, (FieldError(field="", message=words),))
    return render(request, "pages/practice_staff.html", view, status=422)


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
