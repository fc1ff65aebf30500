"""One's own second factor: set up with a picture for the telephone, confirmed, switched off."""

from __future__ import annotations

import io
from dataclasses import dataclass

import pyotp
import segno
from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Staff
from app.storage.practice_scope import NotFound
from app.web.cookies import SESSION_COOKIE, give
from app.web.dependencies import CurrentActor, Login, Posted, ReadingDep, SettingsDep, StoreDep
from app.web.notes import go_to
from app.web.pages.me_places import my_places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.throttle import MustWait, password_again, place_of, slowed
from app.work import log_ins
from app.work.second_factor import (
    FactorState,
    begin_factor,
    confirm_factor,
    factor_of,
    renew_codes,
    switch_off_factor,
)
from app.work.tries import Kind

router = APIRouter(include_in_schema=False)

ADDRESS = "/me/second-factor"


@dataclass(frozen=True, kw_only=True)
class FactorView(View):
    """How it stands, and what can be done.

    Parameters
    ----------
    spoken : the secret in groups, for typing it
    codes : the recovery codes, on the one page that shows them
    due : the practice asks this person for one
    """

    places: list[tuple[str, str, bool]]
    factor: FactorState
    spoken: str
    codes: list[str]
    due: bool


def _page(
    request: Request,
    login: Login,
    store: StoreDep,
    errors: tuple[FieldError, ...] = (),
    codes: list[str] | None = None,
) -> Response:
    with store.reading(login.actor.practice_id) as scope:
        factor = factor_of(scope, login.actor.staff_id)
    view = FactorView(
        heading="Second factor",
        errors=errors,
        places=my_places(ADDRESS, login.actor),
        factor=factor,
        spoken=" ".join(factor.secret[start : start + 4] for start in range(0, len(factor.secret), 4)),
        codes=codes or [],
        due=login.factor_due,
    )
    return render(request, "pages/me_second_factor.html", view, status=422 if errors else 200)


def _state(login: Login, store: StoreDep) -> FactorState:
    with store.reading(login.actor.practice_id) as scope:
        return factor_of(scope, login.actor.staff_id)


@router.get(ADDRESS)
def show_factor(request: Request, login: Login, store: StoreDep) -> Response:
    """How it stands."""
    return _page(request, login, store)


@router.get(f"{ADDRESS}/picture.png")
def picture(scope: ReadingDep, actor: CurrentActor) -> Response:
    """The secret as a QR code for the telephone, only while it waits for its first code."""
    secret = factor_of(scope, actor.staff_id).secret
    if not secret:
        raise NotFound("nothing waits to be set up")
    login_name = scope.get(Staff, actor.staff_id, "person").login
    address = pyotp.TOTP(secret).provisioning_uri(name=login_name, issuer_name="fullcount")
    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(drawn, kind="png", scale=6, border=4)
    return Response(drawn.getvalue(), media_type="image/png", headers={"Cache-Control": "no-store"})


@router.post(f"{ADDRESS}/begin")
def begin(request: Request, login: Login, store: StoreDep, form: Posted) -> Response:
    """A new secret, against the password."""
    if (state := _state(login, store)).on or state.secret:
        # The page was left open while something changed: it shows how it stands now.
        return go_to(ADDRESS)
    wrong = password_again(request, store, login.actor, form.text("present_password"))
    if wrong:
        return _page(request, login, store, wrong)
    try:
        with store.writing(login.actor.practice_id) as scope:
            begin_factor(scope, login.actor)
    except InputError as error:
        return _page(request, login, store, errors_of(error, "present_password"))
    return go_to(ADDRESS)


@router.post(f"{ADDRESS}/confirm")
def confirm(request: Request, login: Login, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """The first code: from now on one is asked for, and this log-in gets a new token."""
    if not _state(login, store).secret:
        # The page was left open while something changed: it shows how it stands now.
        return go_to(ADDRESS)

    def attempt() -> list[str]:
        with store.writing(login.actor.practice_id) as scope:
            return confirm_factor(scope, login.actor, form.text("code"))

    try:
        codes = slowed(store, Kind.CODE, login.actor.staff_id, place_of(request), attempt)
    except MustWait as slow:
        return _page(request, login, store, (FieldError(field="code", message=str(slow)),))
    except InputError as error:
        return _page(request, login, store, errors_of(error, "code"))
    # What the person may do can have grown: an administrator's duty comes with the factor.
    token = log_ins.renew(store, login, place=place_of(request))
    return _with_codes(request, store, settings, token, codes)


@router.post(f"{ADDRESS}/codes")
def new_codes(request: Request, login: Login, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Ten new recovery codes, against the password."""
    if not _state(login, store).on:
        # The page was left open while something changed: it shows how it stands now.
        return go_to(ADDRESS)
    wrong = password_again(request, store, login.actor, form.text("codes_password"), field="codes_password")
    if wrong:
        return _page(request, login, store, wrong)
    try:
        with store.writing(login.actor.practice_id) as scope:
            codes = renew_codes(scope, login.actor)
    except InputError as error:
        return _page(request, login, store, errors_of(error, "codes_password"))
    return _page(request, login, store, codes=codes)


def _with_codes(
    request: Request, store: StoreDep, settings: SettingsDep, token: str, codes: list[str]
) -> Response:
    # The page must carry the token of the log-in that goes on.
    login = log_ins.logged_in(store, token, idle_minutes=settings.idle_minutes, hours=settings.log_in_hours)
    assert login is not None
    request.state.login = login
    answer = _page(request, login, store, codes=codes)
    give(answer, settings, SESSION_COOKIE, token)
    return answer


@router.post(f"{ADDRESS}/off")
def off(request: Request, login: Login, store: StoreDep, form: Posted) -> Response:
    """Switch it off, against the password."""
    if not _state(login, store).on:
        # The page was left open while something changed: it shows how it stands now.
        return go_to(ADDRESS)
    wrong = password_again(request, store, login.actor, form.text("off_password"), field="off_password")
    if wrong:
        return _page(request, login, store, wrong)
    try:
        with store.writing(login.actor.practice_id) as scope:
            switch_off_factor(scope, login.actor, login.actor.staff_id)
    except InputError as error:
        return _page(request, login, store, (FieldError(field="off_password", message=error.message),))
    return go_to(ADDRESS, "factor-off")
