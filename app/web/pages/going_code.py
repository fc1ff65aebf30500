"""The second page of a log-in: the code. Until it is right, nobody is logged in."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.web.cookies import HALF_COOKIE, cookie_of, take
from app.web.dependencies import Posted, SettingsDep, StoreDep
from app.web.leading import own_address
from app.web.notes import go_to
from app.web.pages.going import let_in
from app.web.rendering import FieldError, View, render
from app.web.throttle import MustWait, place_of, slowed
from app.work import log_ins
from app.work.tries import Kind

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class CodeView(View):
    """The form of the code; ``next`` is where it leads."""

    next: str


def _page(request: Request, target: str, error: str = "", status: int = 200) -> Response:
    errors = (FieldError(field="code", message=error),) if error else ()
    view = CodeView(heading="Your code", errors=errors, next=target)
    return render(request, "pages/log_in_code.html", view, status=status)


@router.get("/login/code")
def show_code(request: Request, store: StoreDep, next: str = "/") -> Response:
    """The form, while a right password waits for it."""
    if log_ins.half_of(store, cookie_of(request, HALF_COOKIE)) is None:
        return RedirectResponse("/login", status_code=303)
    return _page(request, own_address(next))


@router.post("/login/code")
def give_code(request: Request, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Try the code: of the telephone, or one of those kept for the day it is lost."""
    half, target, place = cookie_of(request, HALF_COOKIE), own_address(form.text("next", "/")), place_of(request)
    waiting = log_ins.half_of(store, half)
    if waiting is None:
        return _begin_again(settings)

    def attempt() -> log_ins.Begun:
        return log_ins.finish(store, half, form.text("code"), place=place)

    try:
        begun = slowed(store, Kind.CODE, waiting.staff_id, place, attempt)
    except MustWait as slow:
        return _page(request, target, str(slow), 429)
    except log_ins.HalfEnded:
        return _begin_again(settings)
    except log_ins.WrongCode:
        if log_ins.half_of(store, half) is None:
            return _begin_again(settings)
        return _page(request, target, "This code is wrong, or was used before. Type the one shown now.", 401)
    return let_in(request, store, begun, target)


def _begin_again(settings: SettingsDep) -> Response:
    answer = go_to("/login", "log-in-again")
    take(answer, settings, HALF_COOKIE)
    return answer
