"""One's own log-in: a new password."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Staff
from app.web.dependencies import CurrentActor, Login, Posted, StoreDep
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.work.accounts import set_password
from app.work.actor import Actor
from app.work.passwords import is_right

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class MeView(View):
    """Who is logged in."""

    name: str
    role: str
    practice: str
    login_name: str


def _view(login: Login, store: StoreDep, errors: tuple[FieldError, ...] = ()) -> MeView:
    return MeView(
        heading="Your log-in",
        errors=errors,
        name=login.actor.name,
        role=login.actor.duties,
        practice=login.practice_name,
        login_name=_row(store, login.actor).login,
    )


@router.get("/me")
def show_me(request: Request, login: Login, store: StoreDep) -> Response:
    """Who is logged in, and the form for a new password."""
    return render(request, "pages/me.html", _view(login, store))


@router.post("/me/password")
def change_password(
    request: Request, login: Login, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """A new password, against the present one; every log-in of this person ends, this one too."""
    if not is_right(form.text("present_password"), _row(store, actor).password_hash):
        wrong = FieldError(field="present_password", message="This is not your present password. Type it again.")
        return render(request, "pages/me.html", _view(login, store, (wrong,)), status=422)
    try:
        with store.writing(actor.practice_id) as scope:
            set_password(scope, actor, actor.staff_id, form.text("password"))
    except InputError as error:
        return render(request, "pages/me.html", _view(login, store, errors_of(error, "password")), status=422)
    return go_to("/login", "password-set")


def _row(store: StoreDep, actor: Actor) -> Staff:
    with store.reading(actor.practice_id) as scope:
        return scope.get(Staff, actor.staff_id, "person")
