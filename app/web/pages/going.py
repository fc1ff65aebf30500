"""Coming and going: log in, log out, and the first start of a practice."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.core.errors import InputError
from app.web.dependencies import Posted, SettingsDep, StoreDep, session_cookie
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.work import accounts

router = APIRouter(include_in_schema=False)

AT_ONCE = threading.BoundedSemaphore(4)
"""Passwords checked at the same time: each check takes 64 MiB on purpose."""


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


def own_address(text: str) -> str:
    """The address if it leads to a page of ours, else the home page.

    Examples
    --------
    >>> own_address("/patients?q=a"), own_address("//elsewhere.example"), own_address("https://elsewhere.example")
    ('/patients?q=a', '/', '/')
    """
    plain = text.startswith("/") and text.isprintable() and "\\" not in text and not text.startswith("//")
    return text if plain else "/"


def _address_of(request: Request) -> str:
    return request.client.host if request.client is not None else ""


@router.get("/login")
def show_log_in(request: Request, store: StoreDep, next: str = "/") -> Response:
    """The log-in page; before the first start it leads there."""
    if accounts.is_first_start(store):
        return RedirectResponse("/first-start", status_code=303)
    if request.state.login is not None:
        return RedirectResponse(own_address(next), status_code=303)
    return render(request, "pages/log_in.html", LogInView(heading="Log in", login="", next=own_address(next)))


@router.post("/login")
def log_in(request: Request, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Try name and password; each failure tells the same."""
    login, target = form.text("login"), own_address(form.text("next", "/"))
    throttle = request.app.state.throttle
    key = (_address_of(request), login.strip().lower()[:80])
    wait = throttle.wait_s(*key)
    if wait:
        message = f"Several tries with this name have failed. Wait {wait} seconds, then try again."
        return _again(request, login, target, message, 429, {"Retry-After": str(wait)})
    try:
        with AT_ONCE:
            token = accounts.log_in(store, login=login, password=form.text("password"))
    except accounts.WrongLogIn:
        throttle.failed(*key)
        return _again(request, login, target, "Log-in name or password is wrong. Check both and try again.", 401)
    throttle.succeeded(*key)
    # A log-in that was under way in this browser ends: its cookie is replaced.
    _end_present(request, store, settings)
    return _let_in(token, target, settings)


def _again(
    request: Request, login: str, target: str, message: str, status: int, headers: dict[str, str] | None = None
) -> Response:
    errors = (FieldError(field="login", message=message),)
    view = LogInView(heading="Log in", errors=errors, login=login[:80], next=target)
    return render(request, "pages/log_in.html", view, status=status, headers=headers)


def _let_in(token: str, target: str, settings: SettingsDep) -> Response:
    answer = RedirectResponse(target, status_code=303)
    answer.set_cookie(
        session_cookie(settings), token, httponly=True, samesite="lax", secure=settings.secure_cookies, path="/"
    )
    return answer


def _end_present(request: Request, store: StoreDep, settings: SettingsDep) -> None:
    token = request.cookies.get(session_cookie(settings))
    if token:
        accounts.log_out(store, token)


@router.post("/logout")
def log_out(request: Request, store: StoreDep, settings: SettingsDep) -> Response:
    """End the log-in on the server, then in the browser."""
    _end_present(request, store, settings)
    answer = go_to("/login", "logged-out")
    answer.delete_cookie(session_cookie(settings), path="/", secure=settings.secure_cookies, httponly=True)
    # Whatever this browser still holds of patients goes too.
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


@router.get("/first-start")
def show_first_start(request: Request, store: StoreDep) -> Response:
    """The form that makes the practice, as long as nobody works here."""
    if not accounts.is_first_start(store):
        return RedirectResponse("/login", status_code=303)
    return render(request, "pages/first_start.html", FirstStartView(heading="Set up your practice"))


@router.post("/first-start")
def first_start(request: Request, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Make the practice and its first administrator, who is then logged in."""
    values = {name: form.text(name) for name in ("practice_name", "name", "login", "dentist")}
    key = (_address_of(request), "first start")
    throttle, code = request.app.state.throttle, request.app.state.first_code
    wait = throttle.wait_s(*key)
    if wait:
        message = f"Several codes have been wrong. Wait {wait} seconds, then try again."
        return _first_start_again(request, values, (FieldError(field="code", message=message),), 429)
    if not code.opens(form.text("code")):
        throttle.failed(*key)
        message = "This is not the code. It stands on the terminal in which the server was started."
        return _first_start_again(request, values, (FieldError(field="code", message=message),))
    try:
        if values["dentist"] not in ("yes", "no"):
            raise InputError("dentist", "say whether you are the dentist too. Choose one of the two")
        accounts.first_start(
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
    token = accounts.log_in(store, login=values["login"], password=form.text("password"))
    place = "rooms?note=welcome" if values["dentist"] == "yes" else "staff?note=welcome-administrator"
    return _let_in(token, f"/practice/{place}", settings)


def _first_start_again(
    request: Request, values: dict[str, str], errors: tuple[FieldError, ...], status: int = 422
) -> Response:
    view = FirstStartView(heading="Set up your practice", errors=errors, **values)
    return render(request, "pages/first_start.html", view, status=status)
