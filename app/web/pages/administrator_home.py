"""The home page of whoever administers the program and nothing besides."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import col

from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.web.access import roles_for
from app.web.rendering import View
from app.work.actor import ROLE_NAMES, Actor, Role
from app.work.administrators import administrators_of


@dataclass(frozen=True, kw_only=True)
class Duty:
    """A page of the administrator, with a sentence that says what it is for."""

    title: str
    address: str
    what: str


DUTIES: tuple[Duty, ...] = (
    Duty(
        title="Who works here",
        address="/practice/staff",
        what="Add colleagues, close log-ins, replace a forgotten password, choose who administers.",
    ),
    Duty(
        title="The trail",
        address="/trail",
        what="Who saw, changed, exported or was refused what, and when; searched, and taken away as a list.",
    ),
    Duty(title="Backups", address="/backups", what="When the last whole backup was made, and how to make one."),
    Duty(
        title="Keeping and erasing",
        address="/retention",
        what="Carry out what a dentist has decided to erase; names are shown to dentists only.",
    ),
    Duty(
        title="Log-ins under way",
        address="/practice/log-ins",
        what="Who is logged in where, and since when; end what should not be open.",
    ),
    Duty(title="Your own log-in", address="/me", what="Who you are here, and your password."),
)
"""What the home page leads to; each stands in the table of access too."""


@dataclass(frozen=True, kw_only=True)
class AdministratorLine:
    """A person who administers."""

    name: str
    login: str
    role: str


@dataclass(frozen=True, kw_only=True)
class AdministratorHomeView(View):
    """The duties, and who shares them."""

    duties: list[Duty]
    open_log_ins: int
    administrators: list[AdministratorLine]


def administrator_home(scope: PracticeScope, actor: Actor) -> AdministratorHomeView:
    """The duties that are open to this person."""
    return AdministratorHomeView(
        heading="Administering the program",
        duties=[each for each in DUTIES if (roles := roles_for("GET", each.address)) and actor.may(roles)],
        open_log_ins=len(scope.all(scope.select(Staff).where(col(Staff.retired).is_(False)))),
        administrators=[
            AdministratorLine(name=each.name, login=each.login, role=ROLE_NAMES[Role(each.role)])
            for each in administrators_of(scope)
        ],
    )
