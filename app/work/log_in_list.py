"""Log-ins under way, listed and ended: one's own, or by an administrator a colleague's."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import col

from app.storage.columns import now
from app.storage.logins import SecondFactor, StaffPin
from app.storage.people import LoginSession, Staff
from app.storage.practice_scope import NotFound, PracticeScope
from app.work import machines
from app.work.actor import ADMINISTRATORS, ROLE_NAMES, Actor, Role, require
from app.work.log_ins import LOG_IN_HOURS, is_under_way
from app.work.session_rows import end_sessions_of


@dataclass(frozen=True, kw_only=True)
class LogInUnderWay:
    """One log-in of a person.

    Parameters
    ----------
    key : names it in a form; it is not the token
    way : how it began (`session_rows`)
    """

    key: str
    begun_at: datetime
    seen_at: datetime
    address: str
    browser: str
    way: str


def log_ins_of(
    scope: PracticeScope, actor: Actor, staff_id: str, *, idle_minutes: int, hours: int = LOG_IN_HOURS
) -> list[LogInUnderWay]:
    """Every log-in of a person that opens pages now, the newest first."""
    _let(actor, staff_id)
    staff = scope.get(Staff, staff_id, "person")
    moment = now()
    query = scope.select(LoginSession).where(
        LoginSession.staff_id == staff.id, col(LoginSession.ended_at).is_(None)
    )
    return [
        LogInUnderWay(
            key=row.id,
            begun_at=row.created_at,
            seen_at=row.last_seen_at,
            address=row.address,
            browser=row.browser,
            way=row.way,
        )
        for row in scope.all(query.order_by(col(LoginSession.created_at).desc()))
        if is_under_way(row, moment, idle_minutes=idle_minutes, hours=hours)
    ]


@dataclass(frozen=True, kw_only=True)
class ColleagueLine:
    """What a person's log-ins rest on.

    Parameters
    ----------
    under_way : how many log-ins open pages now
    """

    staff_id: str
    name: str
    role: str
    under_way: int
    has_pin: bool
    factor_on: bool


def colleagues(
    scope: PracticeScope, actor: Actor, *, idle_minutes: int, hours: int = LOG_IN_HOURS
) -> list[ColleagueLine]:
    """Everybody who may log in, by name."""
    require(actor, ADMINISTRATORS, "see or end a colleague's log-ins")
    moment = now()
    under_way = Counter(
        row.staff_id
        for row in scope.all(scope.select(LoginSession).where(col(LoginSession.ended_at).is_(None)))
        if is_under_way(row, moment, idle_minutes=idle_minutes, hours=hours)
    )
    with_pin = {row.staff_id for row in scope.all(scope.select(StaffPin))}
    confirmed = scope.select(SecondFactor).where(col(SecondFactor.confirmed_at).is_not(None))
    with_factor = {row.staff_id for row in scope.all(confirmed)}
    return [
        ColleagueLine(
            staff_id=staff.id,
            name=staff.name,
            role=ROLE_NAMES[Role(staff.role)],
            under_way=under_way[staff.id],
            has_pin=staff.id in with_pin,
            factor_on=staff.id in with_factor,
        )
        for staff in scope.all(scope.select(Staff).where(col(Staff.retired).is_(False)).order_by(Staff.name))
    ]


def end_log_in(scope: PracticeScope, actor: Actor, staff_id: str, key: str) -> None:
    """End one log-in of a person; coming back at its machine takes the password.

    Raises
    ------
    NotFound
        The person has no such log-in.
    """
    _let(actor, staff_id)
    row = scope.find(LoginSession, key)
    if row is None or row.staff_id != staff_id:
        raise NotFound("no such log-in of this person. It may have ended by itself")
    row.ended_at = row.ended_at or now()
    scope.session.add(row)
    machines.leave(scope, staff_id, row.machine)


def end_log_ins(scope: PracticeScope, actor: Actor, staff_id: str, *, but: str = "") -> int:
    """End every log-in of a person, but for one; no other machine opens by PIN any more. Answers how many ended.

    Parameters
    ----------
    but : key of the log-in that stays
    """
    _let(actor, staff_id)
    staff = scope.get(Staff, staff_id, "person")
    machines.leave_all(scope, staff.id, but_of=but)
    return end_sessions_of(scope, staff.id, but=but)


def _let(actor: Actor, staff_id: str) -> None:
    if staff_id != actor.staff_id:
        require(actor, ADMINISTRATORS, "see or end a colleague's log-ins")
