"""One's own log-ins under way: seen, and ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.settings import Settings
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Login, Posted, ReadingDep, SettingsDep, StoreDep
from app.web.formatting import counted
from app.web.notes import go_to
from app.web.pages.me_places import my_places
from app.web.rendering import View, render
from app.work import session_rows
from app.work.actor import TEAM, Actor
from app.work.log_in_list import end_log_in, end_log_ins, log_ins_of

router = APIRouter(include_in_schema=False)

WAYS = {
    session_rows.PASSWORD: "password",
    session_rows.CODE: "password and code",
    session_rows.PIN: "PIN",
    session_rows.FIRST_START: "first start",
}


@dataclass(frozen=True, kw_only=True)
class LogInLine:
    """A log-in in a list; ``here`` is the one that shows it."""

    key: str
    begun_at: datetime
    seen_at: datetime
    address: str
    browser: str
    way: str
    here: bool


@dataclass(frozen=True, kw_only=True)
class MyLogInsView(View):
    """Every log-in of mine."""

    places: list[tuple[str, str, bool]]
    log_ins: list[LogInLine]
    idle: str
    hours: int
    may_pin: bool


def log_in_lines(
    scope: PracticeScope, actor: Actor, staff_id: str, settings: Settings, here: str
) -> list[LogInLine]:
    """The log-ins of a person as a page lists them.

    Parameters
    ----------
    here : key of the log-in that looks
    """
    found = log_ins_of(scope, actor, staff_id, idle_minutes=settings.idle_minutes, hours=settings.log_in_hours)
    return [
        LogInLine(
            key=each.key,
            begun_at=each.begun_at,
            seen_at=each.seen_at,
            address=each.address or "not known",
            browser=each.browser or "not known",
            way=WAYS.get(each.way, each.way),
            here=each.key == here,
        )
        for each in found
    ]


def _in_words(minutes: int) -> str:
    return counted(minutes, "minute") if minutes % 60 else counted(minutes // 60, "hour")


@router.get("/me/log-ins")
def show_my_log_ins(request: Request, scope: ReadingDep, login: Login, settings: SettingsDep) -> Response:
    """Since when, last seen, where from, and which is this one."""
    view = MyLogInsView(
        heading="Your log-ins under way",
        places=my_places("/me/log-ins", login.actor),
        log_ins=log_in_lines(scope, login.actor, login.actor.staff_id, settings, login.session_id),
        idle=_in_words(settings.idle_minutes),
        hours=settings.log_in_hours,
        may_pin=login.actor.may(TEAM),
    )
    return render(request, "pages/me_log_ins.html", view)


@router.post("/me/log-ins/end")
def end_mine(actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """End one of them."""
    with store.writing(actor.practice_id) as scope:
        end_log_in(scope, actor, actor.staff_id, form.text("log_in"))
    return go_to("/me/log-ins", "log-in-ended")


@router.post("/me/log-ins/end-others")
def end_my_others(login: Login, store: StoreDep) -> Response:
    """End all but this one."""
    with store.writing(login.actor.practice_id) as scope:
        end_log_ins(scope, login.actor, login.actor.staff_id, but=login.session_id)
    return go_to("/me/log-ins", "log-ins-ended")
