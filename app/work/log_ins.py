"""Log-ins under way: begun by password (and code), found by the cookie's token, ended."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlalchemy.exc import DBAPIError
from sqlmodel import select

from app.core.errors import FullcountError
from app.storage.columns import now
from app.storage.database import Store
from app.storage.logins import HalfLogIn
from app.storage.people import LoginSession, Staff
from app.storage.practice import Practice
from app.storage.practice_scope import PracticeScope
from app.storage.trail_notes import Note
from app.storage.trouble import trouble_of
from app.work import machines, passwords, second_factor, session_rows
from app.work.accounts import actor_of
from app.work.actor import ADMINISTRATORS, Actor, Role
from app.work.session_rows import NOWHERE, Place, key_of

LOG_IN_HOURS = 16
"""Hours after which a log-in ends however busy it is: longer than a working day, shorter than two."""

HALF_LASTS = timedelta(minutes=5)
"""How long a right password waits for its code."""

MOST_WRONG_CODES = 5
"""Wrong codes after which the password is asked again (common practice, no source)."""

SEEN_EVERY = timedelta(minutes=1)
"""How often a request is noted as a sign of life: not every one, so that reading pages does not write."""


class WrongLogIn(FullcountError):
    """Name or password is wrong; which of them is not told."""


class WrongCode(FullcountError):
    """The code is wrong, or was taken before."""


class HalfEnded(FullcountError):
    """The password must be given again before a code."""


@dataclass(frozen=True, kw_only=True)
class LoggedIn:
    """A log-in that is under way, with what its pages need.

    Parameters
    ----------
    way : how it began (`session_rows`)
    machine : key of the machine it began at, or empty
    factor_due : the practice asks this administrator for a second factor, and there is none yet
    """

    actor: Actor
    session_id: str
    csrf_token: str
    numbering: str
    practice_name: str
    way: str = session_rows.PASSWORD
    machine: str = ""
    factor_due: bool = False


@dataclass(frozen=True, kw_only=True)
class Begun:
    """What a right password has begun.

    Parameters
    ----------
    token : for the cookie of the log-in; where a code is still asked for, of the half-finished one
    machine_token : for the machine's cookie; empty where a code is still asked for
    """

    actor: Actor
    token: str
    machine_token: str = ""
    code_asked: bool = False


def log_in(store: Store, *, login: str, password: str, place: Place = NOWHERE) -> Begun:
    """Begin a log-in by name and password, or half of one where the person has a second factor.

    Raises
    ------
    WrongLogIn
        Name unknown, password wrong, or log-in closed: told alike, and after the same reckoning.
    """
    with store.reading() as scope:
        staff = scope.session.exec(select(Staff).where(Staff.login == login.strip().lower())).first()
    right, newer = passwords.check(password, staff.password_hash if staff is not None else passwords.NOBODY)
    if staff is None or staff.retired or not right:
        note_failed_log_in(store, staff)
        raise WrongLogIn("log-in name or password is wrong. Check both and try again")
    with store.writing(staff.practice_id) as scope:
        if newer is not None:
            # The library asks for more effort than when this hash was made.
            present = scope.get(Staff, staff.id, "person")
            if present.password_hash == staff.password_hash:
                present.password_hash = newer
                scope.session.add(present)
        if second_factor.is_on(scope, staff.id):
            half = secrets.token_urlsafe(32)
            scope.add(HalfLogIn(id=key_of(half), staff_id=staff.id))
            return Begun(actor=actor_of(staff), token=half, code_asked=True)
        return _whole(scope, staff, session_rows.PASSWORD, place)


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


def finish(store: Store, half: str, code: str, *, place: Place = NOWHERE) -> Begun:
    """Finish a log-in with the code of the second factor, or with a recovery code.

    Parameters
    ----------
    half : the token that `log_in` gave

    Raises
    ------
    WrongCode
    HalfEnded
        Unknown, too old, or too many codes were wrong.
    """
    found = half_of(store, half)
    if found is None:
        raise HalfEnded("too much time has passed, or too many codes were wrong. Begin again with your password")
    with store.writing(found.practice_id) as scope:
        row = scope.get(HalfLogIn, found.id, "log-in")
        staff = scope.get(Staff, row.staff_id, "person")
        row.tries += 1
        scope.session.add(row)
        right = row.ended_at is None and row.tries <= MOST_WRONG_CODES and not staff.retired
        if right and second_factor.takes(scope, staff.id, code):
            row.ended_at = now()
            return _whole(scope, staff, session_rows.CODE, place)
        if row.tries >= MOST_WRONG_CODES:
            row.ended_at = row.ended_at or now()
    # Raised only here, so that the try has been counted.
    store.trail.note(
        Note(kind="log_in_failed", what="wrong code", who=found.staff_id, practice_id=found.practice_id)
    )
    raise WrongCode("this code is wrong, or was used before. Type the one that is shown now")


def half_of(store: Store, half: str) -> HalfLogIn | None:
    """The half-finished log-in of a token, if it still waits."""
    with store.reading() as scope:
        row = scope.session.get(HalfLogIn, key_of(half))
    waits = row is not None and row.ended_at is None and timedelta(0) <= now() - row.created_at <= HALF_LASTS
    return row if waits else None


def begin_first(store: Store, founder: Actor, *, place: Place = NOWHERE) -> Begun:
    """The log-in of whoever has just set up the practice."""
    with store.writing(founder.practice_id) as scope:
        return _whole(scope, scope.get(Staff, founder.staff_id, "person"), session_rows.FIRST_START, place)


def _whole(scope: PracticeScope, staff: Staff, way: str, place: Place) -> Begun:
    machine_token = machines.new_machine(scope, place.machine)
    here = replace(place, machine=key_of(machine_token))
    machines.remember(scope, staff.id, here.machine)
    token = session_rows.begin_session(scope, staff.id, way=way, place=here)
    return Begun(actor=actor_of(staff), token=token, machine_token=machine_token)


def log_out(store: Store, token: str, *, machine: str = "") -> None:
    """End the log-in of that token on the server; coming back at that machine takes the password."""
    with store.writing() as scope:
        row = session_rows.end_session(scope, key_of(token))
        if row is not None and machine:
            machines.leave(PracticeScope(scope.session, row.practice_id), row.staff_id, machine)


def lock(store: Store, token: str) -> None:
    """End the log-in of that token; the person may come back at the machine by PIN."""
    with store.writing() as scope:
        session_rows.end_session(scope, key_of(token))


def renew(store: Store, login: LoggedIn, *, place: Place = NOWHERE) -> str:
    """A new token for a log-in under way, as after a new password; the old one opens nothing."""
    with store.writing(login.actor.practice_id) as scope:
        session_rows.end_session(scope, login.session_id)
        return session_rows.begin_session(scope, login.actor.staff_id, way=login.way, place=place)


def is_under_way(row: LoginSession, moment: datetime, *, idle_minutes: int, hours: int) -> bool:
    """Whether a log-in still opens pages.

    Parameters
    ----------
    idle_minutes : minutes without a request after which it ends
    hours : hours since its beginning after which it ends
    """
    idle = moment - row.last_seen_at > timedelta(minutes=idle_minutes)
    return row.ended_at is None and not idle and moment - row.created_at <= timedelta(hours=hours)


def logged_in(
    store: Store, token: str, *, idle_minutes: int, hours: int = LOG_IN_HOURS, seen: bool = True
) -> LoggedIn | None:
    """The log-in of a cookie's token; None where it is unknown, ended, idle too long, or too old.

    By PIN, and without the second factor that the practice asks administrators for, a person has the rights of
    their own role only, not the administrator's beside it.

    Parameters
    ----------
    seen : whether this shows that the person is there; a page that asks by itself does not
    """
    moment = now()
    with store.reading() as scope:
        found = scope.session.exec(
            select(LoginSession, Staff, Practice)
            .where(LoginSession.id == key_of(token))
            .where(Staff.id == LoginSession.staff_id)
            .where(Practice.id == Staff.practice_id)
        ).first()
        if found is None:
            return None
        row, staff, practice = found
        actor = actor_of(staff)
        due = practice.second_factor_asked and actor.may(ADMINISTRATORS)
        due = due and not second_factor.is_on(PracticeScope(scope.session, practice.id), staff.id)
    if staff.retired or not is_under_way(row, moment, idle_minutes=idle_minutes, hours=hours):
        return None
    if seen and moment - row.last_seen_at > SEEN_EVERY:
        _seen(store, row, moment)
    if row.way == session_rows.PIN or due:
        actor = replace(actor, administers=False)
    return LoggedIn(
        actor=actor,
        session_id=row.id,
        csrf_token=row.csrf_token,
        numbering=practice.numbering,
        practice_name=practice.name,
        way=row.way,
        machine=row.machine,
        factor_due=due and staff.role == Role.ADMINISTRATOR.value,
    )


def _seen(store: Store, row: LoginSession, moment: datetime) -> None:
    try:
        with store.writing(row.practice_id) as scope:
            again = scope.session.get(LoginSession, row.id)
            if again is not None:
                again.last_seen_at = moment
                scope.session.add(again)
    except (DBAPIError, OSError) as error:
        # A sign of life that cannot be noted (busy, full, read-only) must not keep anybody from reading.
        if trouble_of(error) is None:
            raise
