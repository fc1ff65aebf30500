"""What the routes are handed: the store, the person, and the rows of their practice."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from fastapi import Depends, Request
from fastapi.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from app.core.numbering import Numbering
from app.imaging.examine import Examiner
from app.settings import Settings
from app.storage.database import Store
from app.storage.practice_scope import PracticeScope
from app.web import access, csrf
from app.web.cookies import session_cookie
from app.web.noting import begin_doing
from app.work.actor import Actor
from app.work.log_ins import LoggedIn, logged_in

ASKED_BY_PAGES = "/live/"
"""Begins the addresses that pages ask by themselves."""


def store_of(request: Request) -> Store:
    """The open data folder."""
    store: Store = request.app.state.store
    return store


def settings_of(request: Request) -> Settings:
    """The settings of this server."""
    settings: Settings = request.app.state.settings
    return settings


def examiner_of(request: Request) -> Examiner:
    """Who decodes and measures image files for this server."""
    examiner: Examiner = request.app.state.examiner
    return examiner


async def guard(request: Request) -> None:
    """Runs before every route: who is it, may they, and does it come from our own page."""
    request.state.login = None
    # Who is asked first, so that the trail can say whose browser a foreign site used.
    await identify(request)
    begin_doing(request)
    csrf.check_origin(request)
    access.check_access(request)
    await csrf.check_token(request)


async def identify(request: Request) -> None:
    """Find who is logged in by the cookie of this request, if anybody."""
    request.state.login = None
    if request.cookies.get(session_cookie(settings_of(request))):
        # A page that follows what colleagues do asks by itself, which is no sign that anybody sits before it.
        by_itself = request.url.path.startswith(ASKED_BY_PAGES)
        request.state.login = await run_in_threadpool(log_in_of, request, seen=not by_itself)


def log_in_of(request: Request, *, seen: bool) -> LoggedIn | None:
    """The log-in of a request's cookie; None where there is none, or none that is still under way.

    Parameters
    ----------
    seen : whether the request shows that the person is there, so that the log-in lasts on
    """
    settings = settings_of(request)
    token = request.cookies.get(session_cookie(settings))
    if not token:
        return None
    return logged_in(
        store_of(request), token, idle_minutes=settings.idle_minutes, hours=settings.log_in_hours, seen=seen
    )


def current_login(request: Request) -> LoggedIn:
    """The log-in that is under way."""
    login: LoggedIn | None = request.state.login
    if login is None:
        raise access.LogInNeeded
    return login


Login = Annotated[LoggedIn, Depends(current_login)]
StoreDep = Annotated[Store, Depends(store_of)]
ExaminerDep = Annotated[Examiner, Depends(examiner_of)]
SettingsDep = Annotated[Settings, Depends(settings_of)]


def current_actor(login: Login) -> Actor:
    """The person who asks."""
    return login.actor


def shown_numbering(login: Login) -> Numbering:
    """The designations that the practice reads."""
    return Numbering(login.numbering)


CurrentActor = Annotated[Actor, Depends(current_actor)]
ShownNumbering = Annotated[Numbering, Depends(shown_numbering)]


def reading_scope(store: StoreDep, login: Login) -> Iterator[PracticeScope]:
    """The practice's rows, to read; given back before the answer is sent."""
    with store.reading(login.actor.practice_id) as scope:
        yield scope


ReadingDep = Annotated[PracticeScope, Depends(reading_scope, scope="function")]


class PostedForm:
    """The fields of a form as they were sent."""

    def __init__(self, data: FormData) -> None:
        self.data = data

    def text(self, name: str, default: str = "") -> str:
        """The text of a field; ``default`` where it was not sent."""
        value = self.data.get(name, default)
        return value if isinstance(value, str) else default

    def texts(self, name: str) -> list[str]:
        """Every text sent under a name, in order."""
        return [value for value in self.data.getlist(name) if isinstance(value, str)]

    def flag(self, name: str) -> bool:
        """Whether a box was ticked."""
        return bool(self.text(name))

    def names(self) -> list[str]:
        """The names of all fields sent."""
        return list(self.data.keys())

    def files(self, name: str) -> list[UploadFile]:
        """The files sent under a name; fields left empty are passed over."""
        return [each for each in self.data.getlist(name) if isinstance(each, UploadFile) and each.filename]


async def posted_form(request: Request) -> PostedForm:
    """The form that was sent."""
    return PostedForm(await request.form())


Posted = Annotated[PostedForm, Depends(posted_form)]
