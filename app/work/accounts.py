"""Who works here: added, retired, given passwords."""

from __future__ import annotations

import re

from sqlmodel import select

from app.core.errors import FullcountError, InputError, did_you_mean
from app.storage.database import Store
from app.storage.people import Staff
from app.storage.practice import Practice
from app.storage.practice_scope import PracticeScope
from app.work import machines, passwords
from app.work.actor import ADMINISTRATORS, Actor, Role, require
from app.work.administrators import keep_an_administrator
from app.work.session_rows import end_sessions_of
from app.work.text import checked_line

_LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{1,39}")


class AlreadySetUp(FullcountError):
    """The first start is over: somebody works here already."""


def is_first_start(store: Store) -> bool:
    """Whether nobody works here yet."""
    with store.reading() as scope:
        return scope.session.exec(select(Staff.id).limit(1)).first() is None


def first_start(
    store: Store, *, practice_name: str, name: str, login: str, password: str, dentist: bool = True
) -> Actor:
    """Make the practice and its first administrator.

    Parameters
    ----------
    dentist : whether this person is also the dentist, as in a small practice; else an administrator and nothing
        besides, who adds the dentist

    Raises
    ------
    AlreadySetUp
        Where somebody works here already.
    InputError
        Names the field.
    """
    kept = passwords.hashed(password)
    title = checked_line(practice_name, "practice_name")
    with store.writing() as scope:
        if scope.session.exec(select(Staff.id).limit(1)).first() is not None:
            raise AlreadySetUp("this practice is set up already. Log in instead")
        practice = Practice(name=title)
        scope.session.add(practice)
        scope.session.flush()
        inside = PracticeScope(scope.session, practice.id)
        role = Role.DENTIST if dentist else Role.ADMINISTRATOR
        staff = new_staff(inside, name=name, login=login, role=role.value, administers=dentist, password_hash=kept)
        return actor_of(staff)


def add_staff(
    scope: PracticeScope,
    actor: Actor,
    *,
    name: str,
    login: str,
    role: str,
    password: str,
    administers: bool = False,
) -> Staff:
    """A further person who works here.

    Parameters
    ----------
    administers : whether they administer the program beside their role
    """
    require(actor, ADMINISTRATORS, "add staff")
    kept = passwords.hashed(password)
    return new_staff(scope, name=name, login=login, role=role, administers=administers, password_hash=kept)


def new_staff(
    scope: PracticeScope, *, name: str, login: str, role: str, password_hash: str, administers: bool = False
) -> Staff:
    """A row for a person, checked; who may add one is for the caller to have asked."""
    known = [each.value for each in Role]
    if role not in known:
        raise InputError(
            "role", f'no role "{role}". Choose one of {", ".join(known)}.' + did_you_mean(role, known)
        )
    wanted = checked_login(login)
    if scope.is_taken_anywhere(Staff, "login", wanted):
        raise InputError("login", f'"{wanted}" is taken. Choose another log-in name')
    return scope.add(
        Staff(
            name=checked_line(name, "name"),
            login=wanted,
            role=role,
            # An administrator by role has no second duty.
            administers=administers and role != Role.ADMINISTRATOR,
            password_hash=password_hash,
        )
    )


def checked_login(login: str) -> str:
    """The log-in name as it is kept.

    Raises
    ------
    InputError
        It has letters that no log-in name has, or too many or few.
    """
    wanted = login.strip().lower()
    if _LOGIN.fullmatch(wanted) is None:
        raise InputError(
            "login",
            f'"{login}" cannot be a log-in name. Use 2 to 40 small letters, digits, dots or dashes, like merrin',
        )
    return wanted


def retire_staff(scope: PracticeScope, actor: Actor, staff_id: str, *, retired: bool) -> Staff:
    """Close a person's log-in, or open it again; what they did stays theirs."""
    require(actor, ADMINISTRATORS, "close log-ins")
    staff = scope.get(Staff, staff_id, "person")
    if retired and staff.id == actor.staff_id:
        raise InputError("staff", "you cannot close your own log-in. Ask another administrator")
    if retired and actor_of(staff).may(ADMINISTRATORS):
        keep_an_administrator(scope, staff)
    staff.retired = retired
    if retired:
        end_sessions(scope, staff.id)
    scope.session.add(staff)
    return staff


def set_password(scope: PracticeScope, actor: Actor, staff_id: str, password: str, *, but: str = "") -> None:
    """A new password, one's own or an administrator's for anybody; that person's log-ins end.

    Parameters
    ----------
    but : key of the log-in that stays, where it is one's own that asks
    """
    if staff_id != actor.staff_id:
        require(actor, ADMINISTRATORS, "set a colleague's password")
    staff = scope.get(Staff, staff_id, "person")
    staff.password_hash = passwords.hashed(password)
    end_sessions(scope, staff.id, but=but)
    scope.session.add(staff)


def end_sessions(scope: PracticeScope, staff_id: str, *, but: str = "") -> None:
    """End every log-in of a person but one, and have no other machine know them."""
    end_sessions_of(scope, staff_id, but=but)
    machines.forget(scope, staff_id, but_of=but)


def actor_of(staff: Staff) -> Actor:
    """The person as a use case knows them."""
    return Actor(
        staff_id=staff.id,
        practice_id=staff.practice_id,
        name=staff.name,
        role=Role(staff.role),
        administers=staff.administers,
    )
