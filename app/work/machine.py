"""What only somebody at the machine may do: there is no actor, because whoever holds the data folder holds all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import col, select

from app.core.errors import InputError
from app.storage.database import Store
from app.storage.people import Staff
from app.storage.practice import Practice
from app.work import passwords
from app.work.accounts import actor_of, checked_login, end_sessions, new_staff
from app.work.actor import ADMINISTRATORS, Role
from app.work.second_factor import drop_factor


@dataclass(frozen=True, kw_only=True)
class SetAdministrator:
    """Who administers now, and whether they are new."""

    name: str
    login: str
    made: bool


def administrators_here(store: Store) -> Sequence[str]:
    """Log-in names of everybody who administers, in the whole data folder."""
    with store.reading() as scope:
        rows = scope.session.exec(select(Staff).order_by(Staff.login)).all()
    return [row.login for row in rows if actor_of(row).may(ADMINISTRATORS) and not row.retired]


def is_known(store: Store, login: str) -> bool:
    """Whether somebody has that log-in name."""
    with store.reading() as scope:
        return scope.is_taken_anywhere(Staff, "login", checked_login(login))


def set_administrator(store: Store, *, login: str, password: str, name: str = "") -> SetAdministrator:
    """Give an administrator a new password and end their log-ins; or make an administrator.

    Parameters
    ----------
    name : of the new administrator; only where nobody has that log-in name

    Raises
    ------
    InputError
        Nobody works here yet; the person does not administer; the name is missing, or not needed.
    """
    wanted = checked_login(login)
    kept = passwords.hashed(password)
    with store.writing() as scope:
        staff = scope.session.exec(select(Staff).where(Staff.login == wanted)).first()
        practice_id = (
            staff.practice_id if staff is not None else _only_practice(scope.session.exec(_PRACTICES).all())
        )
    with store.writing(practice_id) as scope:
        staff = scope.first(scope.select(Staff).where(Staff.login == wanted))
        if staff is None:
            if not name.strip():
                raise InputError("--name", f'nobody has the log-in name "{wanted}". Name the new administrator')
            row = new_staff(scope, name=name, login=wanted, role=Role.ADMINISTRATOR.value, password_hash=kept)
            return SetAdministrator(name=row.name, login=wanted, made=True)
        if name.strip():
            raise InputError("--name", f'"{wanted}" is {staff.name} already. Leave the name out')
        if not actor_of(staff).may(ADMINISTRATORS):
            raise InputError(
                "login",
                f"{staff.name} does not administer the program. Name somebody who does, or make a new "
                "administrator under another log-in name",
            )
        staff.password_hash = kept
        # Whoever is at the machine says that this person administers: a closed log-in opens again.
        staff.retired = False
        end_sessions(scope, staff.id)
        # The telephone may be what was lost: only the new password is asked.
        drop_factor(scope, staff.id)
        scope.session.add(staff)
        return SetAdministrator(name=staff.name, login=wanted, made=False)


_PRACTICES = select(Practice.id).order_by(col(Practice.created_at), col(Practice.id))


def _only_practice(ids: Sequence[str]) -> str:
    if not ids:
        raise InputError(
            "data folder", "nobody works here yet. Start the server on this terminal: it asks what it needs"
        )
    return ids[0]
