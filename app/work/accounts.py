"""Log-ins and staff."""

from __future__ import annotations

import hashlib
import re
import secrets
from dataclasses import dataclass
from datetime import timedelta

from sqlalchemy.exc import DBAPIError
from sqlmodel import select

from app.core.errors import FullcountError, InputError, did_you_mean
from app.storage.columns import now
from app.storage.database import Store
from app.storage.people import LoginSession, Staff
from app.storage.practice import Practice
from app.storage.practice_scope import PracticeScope
from app.storage.trail_notes import Note
from app.storage.trouble import trouble_of
from app.work import passwords
from app.work.actor import ADMINISTRATORS, Actor, Role, require
from app.work.administrators import keep_an_administrator
from app.work.text import checked_line

_LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{1,39}")


class WrongLogIn(FullcountError):
    """Name or password is wrong; which of them is not told."""


class AlreadySetUp(FullcountError):
    """The first start is over: somebody works here already."""


@dataclass(frozen=True, kw_only=True)
class LoggedIn:
    """A log-in that is under way, with what its pages need."""

    actor: Actor
    session_id: str
    csrf_token: str
    numbering: str
    practice_name: str


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


def set_password(scope: PracticeScope, actor: Actor, staff_id: str, password: str) -> None:
    """A new password; every log-in of that person ends. One's own, or by an administrator for anybody."""
    if staff_id != actor.staff_id:
        require(actor, ADMINISTRATORS, "set a colleague's password")
    staff = scope.get(Staff, staff_id, "person")
    staff.password_hash = passwords.hashed(password)
    end_sessions(scope, staff.id)
    scope.session.add(staff)


def end_sessions(scope: PracticeScope, staff_id: str) -> None:
    """End every log-in of a person."""
    for row in scope.all(scope.select(LoginSession).where(LoginSession.staff_id == staff_id)):
        row.ended_at = row.ended_at or now()
        scope.session.add(row)


def actor_of(staff: Staff) -> Actor:
    """The person as a use case knows them."""
    return Actor(
        staff_id=staff.id,
        practice_id=staff.practice_id,
        name=staff.name,
        role=Role(staff.role),
        administers=staff.administers,
    )


def log_in(store: Store, *, login: str, password: str) -> str:
    """A new token for the cookie.

    Raises
    ------
    WrongLogIn
        Name unknown, password wrong, or log-in closed: told alike.
    """
    with store.reading() as scope:
        staff = scope.session.exec(select(Staff).where(Staff.login == login.strip().lower())).first()
    right = passwords.is_right(password, staff.password_hash if staff is not None else passwords.NOBODY)
    if staff is None or staff.retired or not right:
        note_failed_log_in(store, staff)
        raise WrongLogIn("log-in name or password is wrong. Check both and try again")
    token = secrets.token_urlsafe(32)
    with store.writing(staff.practice_id) as scope:
        scope.add(LoginSession(id=_key(token), staff_id=staff.id, csrf_token=secrets.token_urlsafe(24)))
    return token


def note_failed_log_in(store: Store, staff: Staff | None) -> None:
    """Into the trail: whose log-in it was, where such a person exists; never what was typed.

    People type their password into the field of the name.
    """
    if staff is None:
        said = Note(kind="log_in_failed", what="no such log-in name")
    else:
        what = "log-in is closed" if staff.retired else "wrong password"
        said = Note(kind="log_in_failed", what=what, who=staff.id, practice_id=staff.practice_id)
    store.trail.note(said)


def log_out(store: Store, token: str) -> None:
    """End the log-in of that token on the server."""
    with store.writing() as scope:
        row = scope.session.get(LoginSession, _key(token))
        if row is not None and row.ended_at is None:
            row.ended_at = now()
            scope.session.add(row)


SEEN_EVERY = timedelta(minutes=1)
"""How often a request is noted as a sign of life: not every one, so that reading pages does not write."""


def logged_in(store: Store, token: str, *, idle_minutes: int, seen: bool = True) -> LoggedIn | None:
    """The log-in of a cookie's token; None where it is unknown, ended, or idle too long.

    Parameters
    ----------
    idle_minutes : minutes without a request after which a log-in ends
    seen : whether this shows that the person is there; a page that asks by itself does not
    """
    moment = now()
    with store.reading() as scope:
        found = scope.session.exec(
            select(LoginSession, Staff, Practice)
            .where(LoginSession.id == _key(token))
            .where(Staff.id == LoginSession.staff_id)
            .where(Practice.id == Staff.practice_id)
        ).first()
    if found is None:
        return None
    row, staff, practice = found
    if row.ended_at is not None or staff.retired or moment - row.last_seen_at > timedelta(minutes=idle_minutes):
        return None
    if seen and moment - row.last_seen_at > SEEN_EVERY:
        try:
            with store.writing(staff.practice_id) as scope:
                again = scope.session.get(LoginSession, row.id)
                if again is not None:
                    again.last_seen_at = moment
                    scope.session.add(again)
        except (DBAPIError, OSError) as error:
            # A sign of life that cannot be noted (busy, full, read-only) must not keep anybody from reading.
            if trouble_of(error) is None:
                raise
    return LoggedIn(
        actor=actor_of(staff),
        session_id=row.id,
        csrf_token=row.csrf_token,
        numbering=practice.numbering,
        practice_name=practice.name,
    )


def _key(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
