"""A page is one typed view model and one template.

Templates see ``view`` (the page's own model), ``shell`` (what every page has around it) and a few functions; a
name that is missing is an error, not an empty place.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from app.core.errors import InputError
from app.settings import Settings
from app.web import csrf
from app.web.formatting import FILTERS
from app.web.notes import NOTES
from app.web.static_files import StaticVersion
from app.work.actor import ADMINISTRATORS, CHAIRSIDE, DENTISTS, EVERYBODY, ROLE_NAMES, TEAM, Role

TEMPLATES = Path(__file__).resolve().parents[2] / "templates"


@dataclass(frozen=True, kw_only=True)
class FieldError:
    """What is wrong with one field, and the mend; ``field`` is its name in the form, empty for the whole."""

    field: str
    message: str


@dataclass(frozen=True, kw_only=True)
class View:
    """What every page's view model has.

    Parameters
    ----------
    heading : the page's one h1; the title begins with it
    errors : what was wrong with the form that came back
    opened : what the page's form showed when it was opened (`app.web.choice`); empty where nobody can overtake it
    """

    heading: str
    errors: tuple[FieldError, ...] = ()
    opened: str = ""

    def error_at(self, field: str) -> str:
        """The message of a field; empty where nothing is wrong with it."""
        return next((each.message for each in self.errors if each.field == field), "")


@dataclass(frozen=True, kw_only=True)
class NavItem:
    """A place in the header."""

    title: str
    address: str
    here: bool


@dataclass(frozen=True, kw_only=True)
class Shell:
    """What stands around every page.

    Parameters
    ----------
    csrf_token : goes into every form
    person, role, practice : empty where nobody is logged in
    note : what has just been done, in words; empty where nothing was
    """

    csrf_token: str
    person: str
    role: str
    practice: str
    numbering: str
    nav: tuple[NavItem, ...]
    note: str


NAV: tuple[tuple[str, str, frozenset[Role]], ...] = (
    ("Home", "/", EVERYBODY),
    ("Patients", "/patients", TEAM),
    ("Calendar", "/calendar", TEAM),
    ("Recall", "/recall", TEAM),
    ("Templates", "/templates", CHAIRSIDE),
    ("Quality", "/quality", CHAIRSIDE),
    ("Practice", "/practice", DENTISTS | ADMINISTRATORS),
)


def errors_of(error: InputError, *known: str) -> tuple[FieldError, ...]:
    """The error as the form shows it: at its field where the form has it, else at the top.

    Parameters
    ----------
    known : names of the form's fields; without any, the error's path is taken as it is
    """
    field = error.path if not known or error.path in known else ""
    return (FieldError(field=field, message=error.message if field else str(error)),)


def make_environment(static: StaticVersion) -> Environment:
    """The template environment: strict, escaped, with the house's filters."""
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.do"],
    )
    environment.filters.update(FILTERS)
    environment.globals["static"] = static.address
    return environment


def shell_of(request: Request) -> Shell:
    """What stands around a page for this person."""
    login = getattr(request.state, "login", None)
    path = request.url.path
    nav = tuple(
        NavItem(
            title=title, address=address, here=path == address or (address != "/" and path.startswith(address))
        )
        for title, address, roles in NAV
        if login is not None and login.actor.may(roles)
    )
    return Shell(
        csrf_token=csrf.token_of(request),
        person=login.actor.name if login is not None else "",
        role=ROLE_NAMES[login.actor.role] if login is not None else "",
        practice=login.practice_name if login is not None else "",
        numbering=login.numbering if login is not None else "iso3950",
        nav=nav,
        note=NOTES.get(request.query_params.get("note", ""), ""),
    )


def render(
    request: Request, template: str, view: Any, *, status: int = 200, headers: dict[str, str] | None = None
) -> HTMLResponse:
    """The page (or a fragment of one) as an answer.

    Parameters
    ----------
    template : file under ``templates/``, like ``pages/home.html``
    view : the page's view model, a `View`; for fragments any dataclass
    """
    if not hasattr(request.state, "login"):
        request.state.login = None
    csrf.begin_visit(request)
    environment: Environment = request.app.state.templates
    # What is called shell here stands around a page, and runs nothing.
    html = environment.get_template(template).render(view=view, shell=shell_of(request))  # nosec B604
    answer = HTMLResponse(html, status_code=status, headers=headers)
    visit = getattr(request.state, "new_visit", "")
    if visit:
        settings: Settings = request.app.state.settings
        answer.set_cookie(
            csrf.visit_cookie(request),
            visit,
            httponly=True,
            samesite="lax",
            secure=settings.secure_cookies,
            path="/",
        )
    return answer
