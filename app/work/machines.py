"""Machines that know people: who logged in wholly there, and may come back by PIN.

A machine is a browser with a long random cookie; its SHA-256 is kept. The token is new after every whole log-in,
so that a cookie that somebody planted or copied before is worth nothing afterwards.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from sqlmodel import col, select

from app.storage.columns import now
from app.storage.database import Store
from app.storage.logins import MachinePerson, StaffPin
from app.storage.people import LoginSession, Staff
from app.storage.practice_scope import PracticeScope
from app.work.actor import ROLE_NAMES, Role
from app.work.session_rows import key_of

KNOWN_FOR = timedelta(days=30)
"""How long a machine or an address counts as a person's own after a right log-in (our choice, no source)."""

PIN_HOURS = 12
"""Hours after a whole log-in in which the PIN opens: a working day (our choice, no source)."""

MOST_WRONG_PINS = 5
"""Wrong PINs after which only a whole log-in opens there (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class PersonHere:
    """Somebody who may come back at this machine.

    Parameters
    ----------
    id : of the row that ties the person to the machine
    shut : too many wrong PINs: only the password opens
    """

    id: str
    staff_id: str
    practice_id: str
    name: str
    role: str
    shut: bool


def new_machine(scope: PracticeScope, old: str) -> str:
    """A new token for a machine's cookie; whoever the old one stood for is known under the new one.

    Parameters
    ----------
    old : key of the machine's present token; empty where it has none
    """
    token = secrets.token_urlsafe(32)
    if old:
        for table in (MachinePerson, LoginSession):
            for row in scope.session.exec(select(table).where(table.machine == old)).all():
                row.machine = key_of(token)
                scope.session.add(row)
    return token


def remember(scope: PracticeScope, staff_id: str, machine: str) -> None:
    """The person has logged in wholly at that machine."""
    if not machine:
        return
    row = _row(scope, staff_id, machine) or MachinePerson(machine=machine, staff_id=staff_id)
    row.full_at, row.left_at, row.wrong_pins = now(), None, 0
    scope.add(row)


def leave(scope: PracticeScope, staff_id: str, machine: str) -> None:
    """The person has logged out there: coming back takes the password."""
    row = _row(scope, staff_id, machine)
    if row is not None:
        row.left_at = now()
        scope.session.add(row)


def leave_all(scope: PracticeScope, staff_id: str, *, but_of: str = "") -> None:
    """Coming back takes the password everywhere.

    Parameters
    ----------
    but_of : key of the log-in whose machine stays as it is
    """
    for row in _others(scope, staff_id, but_of):
        row.left_at = row.left_at or now()
        scope.session.add(row)


def forget(scope: PracticeScope, staff_id: str, *, but_of: str = "") -> None:
    """No machine knows the person any more; ``but_of`` as above."""
    for row in _others(scope, staff_id, but_of):
        scope.session.delete(row)
    scope.session.flush()


def _others(scope: PracticeScope, staff_id: str, but_of: str) -> list[MachinePerson]:
    kept = scope.find(LoginSession, but_of)
    here = kept.machine if kept is not None and kept.staff_id == staff_id else ""
    query = scope.select(MachinePerson).where(MachinePerson.staff_id == staff_id)
    return [row for row in scope.all(query) if row.machine != here]


def _row(scope: PracticeScope, staff_id: str, machine: str) -> MachinePerson | None:
    query = scope.select(MachinePerson).where(MachinePerson.staff_id == staff_id)
    return scope.first(query.where(MachinePerson.machine == machine)) if machine else None


def people_here(store: Store, machine: str, *, pin_hours: int = PIN_HOURS) -> Sequence[PersonHere]:
    """Who may come back at a machine by PIN: logged in wholly there not long ago, has a PIN, and has not left."""
    if not machine:
        return []
    with store.reading() as scope:
        found = scope.session.exec(
            select(MachinePerson, Staff)
            .where(MachinePerson.machine == machine)
            .where(MachinePerson.full_at > now() - timedelta(hours=pin_hours))
            .where(col(MachinePerson.left_at).is_(None))
            .where(Staff.id == MachinePerson.staff_id)
            .where(StaffPin.staff_id == Staff.id)
            .where(Staff.role != Role.ADMINISTRATOR.value)
            .where(col(Staff.retired).is_(False))
            .order_by(Staff.name)
        ).all()
    return [
        PersonHere(
            id=row.id,
            staff_id=staff.id,
            practice_id=staff.practice_id,
            name=staff.name,
            role=ROLE_NAMES[Role(staff.role)],
            shut=row.wrong_pins >= MOST_WRONG_PINS,
        )
        for row, staff in found
    ]
