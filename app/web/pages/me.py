"""One's own log-in: a new password, and a PIN."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Staff
from app.web.cookies import SESSION_COOKIE, give, machine_of
from app.web.dependencies import CurrentActor, Login, Posted, SettingsDep, StoreDep
from app.web.notes import go_to
from app.web.pages.me_places import my_places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.throttle import password_again, place_of
from app.work import log_ins
from app.work.accounts import set_password
from app.work.actor import TEAM
from app.work.pins import pin_of, remove_pin, set_pin
from app.work.second_factor import FactorState, factor_of

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class MeView(View):
    """Who is logged in.

    Parameters
    ----------
    may_pin : whether the role may use a PIN
    has_pin : whether one is set
    pin_hours : how long it opens after a whole log-in
    """

    places: list[tuple[str, str, bool]]
    name: str
    role: str
    practice: str
    login_name: str
    may_pin: bool
    has_pin: bool
    pin_hours: int
    factor: FactorState
    factor_due: bool


def _page(
    request: Request, login: Login, store: StoreDep, settings: SettingsDep, errors: tuple[FieldError, ...] = ()
) -> Response:
    actor = login.actor
    with store.reading(actor.practice_id) as scope:
        view = MeView(
            heading="Your log-in",
            errors=errors,
            places=my_places("/me", actor),
            name=actor.name,
            role=actor.duties,
            practice=login.practice_name,
            login_name=scope.get(Staff, actor.staff_id, "person").login,
            may_pin=actor.role in TEAM,
            has_pin=pin_of(scope, actor.staff_id) is not None,
            pin_hours=settings.pin_hours,
            factor=factor_of(scope, actor.staff_id),
            factor_due=login.factor_due,
        )
    return render(request, "pages/me.html", view, status=422 if errors else 200)


@router.get("/me")
def show_me(request: Request, login: Login, store: StoreDep, settings: SettingsDep) -> Response:
    """Who is logged in, and the forms for a new password and a PIN."""
    return _page(request, login, store, settings)


@router.post("/me/password")
def change_password(
    request: Request, login: Login, store: StoreDep, settings: SettingsDep, form: Posted
) -> Response:
    """A new password, against the present one; the person's other log-ins end, and this one gets a new token."""
    actor = login.actor
    wrong = password_again(request, store, actor, form.text("present_password"))
    if wrong:
        return _page(request, login, store, settings, wrong)
    try:
        with store.writing(actor.practice_id) as scope:
            set_password(scope, actor, actor.staff_id, form.text("password"), but=login.session_id)
    except InputError as error:
        return _page(request, login, store, settings, errors_of(error, "password"))
    answer = go_to("/me", "own-password-set")
    give(answer, settings, SESSION_COOKIE, log_ins.renew(store, login, place=place_of(request)))
    return answer


@router.post("/me/pin")
def new_pin(
    request: Request, login: Login, actor: CurrentActor, store: StoreDep, settings: SettingsDep, form: Posted
) -> Response:
    """A PIN, against the password."""
    wrong = password_again(request, store, actor, form.text("pin_password"), field="pin_password")
    if wrong:
        return _page(request, login, store, settings, wrong)
    try:
        with store.writing(actor.practice_id) as scope:
            set_pin(scope, actor, form.text("pin"), form.text("pin_again"), machine=machine_of(request))
    except InputError as error:
        return _page(request, login, store, settings, errors_of(error, "pin", "pin_again"))
    return go_to("/me", "pin-set")


@router.post("/me/pin/remove")
def no_pin(actor: CurrentActor, store: StoreDep) -> Response:
    """No PIN any more: whoever is logged in may always ask for more safety."""
    with store.writing(actor.practice_id) as scope:
        remove_pin(scope, actor)
    return go_to("/me", "pin-removed")
