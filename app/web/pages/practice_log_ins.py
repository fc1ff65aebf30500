"""Colleagues' log-ins, for administrators: seen and ended; second factors asked for, or switched off."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Staff
from app.web.dependencies import CurrentActor, Login, Posted, ReadingDep, SettingsDep, StoreDep
from app.web.notes import go_to
from app.web.pages.me_log_ins import LogInLine, log_in_lines
from app.web.pages.practice import places
from app.web.rendering import FieldError, View, errors_of, render
from app.work.log_in_list import ColleagueLine, colleagues, end_log_in, end_log_ins
from app.work.second_factor import FactorState, ask_administrators, factor_of, switch_off_factor

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class PracticeLogInsView(View):
    """Everybody, with what their log-ins rest on.

    Parameters
    ----------
    asked : whether administrators must have a second factor
    """

    places: list[tuple[str, str, bool]]
    people: list[ColleagueLine]
    asked: bool


@dataclass(frozen=True, kw_only=True)
class ColleagueView(View):
    """One colleague's log-ins."""

    staff_id: str
    name: str
    me: bool
    log_ins: list[LogInLine]
    factor: FactorState


def _page(
    request: Request, login: Login, store: StoreDep, settings: SettingsDep, errors: tuple[FieldError, ...] = ()
) -> Response:
    with store.reading(login.actor.practice_id) as scope:
        view = PracticeLogInsView(
            heading="Log-ins of the practice",
            errors=errors,
            places=places("/practice/log-ins", login.actor),
            people=colleagues(scope, login.actor, idle_minutes=settings.idle_minutes, hours=settings.log_in_hours),
            asked=scope.practice().second_factor_asked,
        )
    return render(request, "pages/practice_log_ins.html", view, status=422 if errors else 200)


@router.get("/practice/log-ins")
def show_all(request: Request, login: Login, store: StoreDep, settings: SettingsDep) -> Response:
    """Everybody's."""
    return _page(request, login, store, settings)


@router.post("/practice/log-ins/second-factor")
def ask(request: Request, login: Login, store: StoreDep, settings: SettingsDep, form: Posted) -> Response:
    """Whether administrators must have a second factor."""
    asked = form.text("asked") == "yes"
    try:
        with store.writing(login.actor.practice_id) as scope:
            ask_administrators(scope, login.actor, asked=asked)
    except InputError as error:
        return _page(request, login, store, settings, errors_of(error, "asked"))
    return go_to("/practice/log-ins", "factor-asked" if asked else "factor-not-asked")


@router.get("/practice/log-ins/{staff_id}")
def show_one(request: Request, staff_id: str, scope: ReadingDep, login: Login, settings: SettingsDep) -> Response:
    """One person's."""
    staff = scope.get(Staff, staff_id, "person")
    view = ColleagueView(
        heading=f"Log-ins of {staff.name}",
        staff_id=staff.id,
        name=staff.name,
        me=staff.id == login.actor.staff_id,
        log_ins=log_in_lines(scope, login.actor, staff.id, settings, login.session_id),
        factor=factor_of(scope, staff.id),
    )
    return render(request, "pages/practice_log_ins_one.html", view)


@router.post("/practice/log-ins/{staff_id}/end")
def end_one(staff_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """End one of them."""
    with store.writing(actor.practice_id) as scope:
        end_log_in(scope, actor, scope.get(Staff, staff_id, "person").id, form.text("log_in"))
    return go_to(f"/practice/log-ins/{staff_id}", "log-in-ended")


@router.post("/practice/log-ins/{staff_id}/end-all")
def end_all(staff_id: str, login: Login, store: StoreDep) -> Response:
    """End all of them; the one that asks stays."""
    with store.writing(login.actor.practice_id) as scope:
        end_log_ins(scope, login.actor, staff_id, but=login.session_id)
    return go_to(f"/practice/log-ins/{staff_id}", "log-ins-ended")


@router.post("/practice/log-ins/{staff_id}/second-factor/off")
def factor_off(staff_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """Switch a colleague's second factor off: their telephone is lost. Their page tells them."""
    with store.writing(actor.practice_id) as scope:
        if staff_id == actor.staff_id:
            raise InputError("person", "switch off your own second factor under your name, with your password")
        switch_off_factor(scope, actor, staff_id)
    return go_to(f"/practice/log-ins/{staff_id}", "factor-off")
