"""Coming and going: log in, log out, and the first start of a practice."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.core.errors import FullcountError, InputError
from app.settings import Settings
from app.web.cookies import HALF_COOKIE, MACHINE_COOKIE, SESSION_COOKIE, cookie_of, give, machine_of, take
from app.web.dependencies import Posted, SettingsDep, StoreDep
from app.web.leading import own_address
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.web.throttle import MustWait, place_of, slowed
from app.work import accounts, log_ins
from app.work.tries import Kind

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class LogInView(View):
    """The log-in form; ``next`` is where it leads."""

    login: str
    next: str


@dataclass(frozen=True, kw_only=True)
class FirstStartView(View):
    """The form of the first start, as typed."""

    practice_name: str = ""
    name: str = ""
    login: str = ""
    dentist: str = ""


@router.get("/login")
def show_log_in(request: Request, store: StoreDep, next: str = "/", other: str = "") -> Response:
    """The log-in page; before the first start it leads there.

    Parameters
    ----------
    other : anything, where somebody else than the person logged in wants to
    """
    if accounts.is_first_start(store):
        return RedirectResponse("/first-start", status_code=303)
    if request.state.login is not None and not other:
        return RedirectResponse(own_address(next), status_code=303)
    return render(request, "pages/log_in.html", LogInView(heading="Log in", login="", next=own_address(next)))


@router.post("/login")
def log_in(request: Request, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Try name and password; each failure tells the same."""
    login, target, place = form.text("login"), own_address(form.text("next", "/")), place_of(request)

    def attempt() -> log_ins.Begun:
        return log_ins.log_in(store, login=login, password=form.text("password"), place=place)

    try:
        begun = slowed(store, Kind.PASSWORD, login, place, attempt)
    except MustWait as slow:
        return _again(request, login, target, str(slow), 429, slow.headers)
    except log_ins.WrongLogIn:
        return _again(request, login, target, "Log-in name or password is wrong. Check both and try again.", 401)
    if begun.code_asked:
        answer = RedirectResponse(f"/login/code?{urlencode({'next': target})}", status_code=303)
        give(answer, settings, HALF_COOKIE, begun.token)
        return answer
    return let_in(request, store, begun, target)


def _again(
    request: Request, login: str, target: str, message: str, status: int, headers: dict[str, str] | None = None
) -> Response:
    errors = (FieldError(field="login", message=message),)
    view = LogInView(heading="Log in", errors=errors, login=login[:80], next=target)
    return render(request, "pages/log_in.html", view, status=status, headers=headers)


def let_in(request: Request, store: StoreDep, begun: log_ins.Begun, target: str) -> Response:
    """Give the cookies of a log-in that has just begun; the one that this browser had until now ends."""
    settings: Settings = request.app.state.settings
    before = cookie_of(request, SESSION_COOKIE)
    if before:
        log_ins.lock(store, before)
    answer = RedirectResponse(target, status_code=303)
    give(answer, settings, SESSION_COOKIE, begun.token)
    if begun.machine_token:
        give(answer, settings, MACHINE_COOKIE, begun.machine_token)
    if cookie_of(request, HALF_COOKIE):
        take(answer, settings, HALF_COOKIE)
    return answer


@router.post("/logout")
def log_out(request: Request, store: StoreDep, settings: SettingsDep) -> Response:
    """End the log-in on the server, then in the browser; the PIN opens nothing here until the next log-in."""
    token = cookie_of(request, SESSION_COOKIE)
    if token:
        log_ins.log_out(store, token, machine=machine_of(request))
    answer = go_to("/login", "logged-out")
    take(answer, settings, SESSION_COOKIE)
    # Whatever this browser still holds of patients goes too.
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


@router.get("/first-start")
def show_first_start(request: Request, store: StoreDep) -> Response:
    """The form that makes the practice, as long as nobody works here."""
    if not accounts.is_first_start(store):
        return RedirectResponse("/login", status_code=303)
    return render(request, "pages/first_start.html", FirstStartView(heading="Set up your practice"))


class _WrongFirstCode(FullcountError):
    pass


@router.post("/first-start")
def first_start(request: Request, store: StoreDep, form: Posted) -> Response:
    """Make the practice and its first administrator, who is then logged in."""
    values = {name: form.text(name) for name in ("practice_name", "name", "login", "dentist")}
    place, code = place_of(request), request.app.state.first_code

    def attempt() -> None:
        if not code.opens(form.text("code")):
            raise _WrongFirstCode

    try:
        slowed(store, Kind.FIRST_START, "first start", place, attempt)
    except MustWait as slow:
        return _first_start_again(request, values, (FieldError(field="code", message=str(slow)),), 429)
    except _WrongFirstCode:
        message = "This is not the code. It stands on the terminal in which the server was started."
        return _first_start_again(request, values, (FieldError(field="code", message=message),))
    try:
        if values["dentist"] not in ("yes", "no"):
            raise InputError("dentist", "say whether you are the dentist too. Choose one of the two")
        founder = accounts.first_start(
            store,
            practice_name=values["practice_name"],
            name=values["name"],
            login=values["login"],
            password=form.text("password"),
            dentist=values["dentist"] == "yes",
        )
    except InputError as error:
        return _first_start_again(request, values, errors_of(error, *values, "password"))
    code.use()
    target = "rooms?note=welcome" if values["dentist"] == "yes" else "staff?note=welcome-administrator"
    return let_in(request, store, log_ins.begin_first(store, founder, place=place), f"/practice/{target}")


def _first_start_again(
    request: Request, values: dict[str, str], errors: tuple[FieldError, ...], status: int = 422
) -> Response:
    view = FirstStartView(heading="Set up your practice", errors=errors, **values)
    return render(request, "pages/first_start.html", view, status=status)
