"""PINs: set by oneself, and open only at a machine where one logged in wholly that day."""

from __future__ import annotations

from datetime import timedelta

from app.core.errors import FullcountError, InputError
from app.storage.columns import now
from app.storage.database import Store
from app.storage.logins import MachinePerson, StaffPin
from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.storage.trail_notes import Note
from app.work import passwords, session_rows
from app.work.accounts import actor_of
from app.work.actor import TEAM, Actor, Role, require
from app.work.log_ins import Begun
from app.work.machines import MOST_WRONG_PINS, PIN_HOURS
from app.work.session_rows import Place


class WrongPin(FullcountError):
    """The PIN is wrong; the sentence says how many more may be tried."""


class PinShut(FullcountError):
    """No PIN opens here for this person: the password does."""


SHUT = "Your PIN does not open at this machine now. Log in with your password"


def set_pin(scope: PracticeScope, actor: Actor, pin: str, again: str, *, machine: str = "") -> None:
    """A new PIN of one's own.

    Parameters
    ----------
    again : the same once more
    machine : key of the machine it is set at, where wrong PINs of before no longer count: the password was given

    Raises
    ------
    InputError
        At ``pin`` or ``pin_again``.
    """
    require(actor, TEAM, "use a PIN")
    kept = passwords.hashed_pin(pin)
    if pin != again:
        raise InputError("pin_again", "the two PINs differ. Type the same one twice")
    row = pin_of(scope, actor.staff_id) or StaffPin(staff_id=actor.staff_id, pin_hash="")
    row.pin_hash, row.set_at = kept, now()
    scope.add(row)
    here = scope.select(MachinePerson).where(MachinePerson.staff_id == actor.staff_id)
    for known in scope.all(here.where(MachinePerson.machine == machine)):
        known.wrong_pins = 0
        scope.session.add(known)


def remove_pin(scope: PracticeScope, actor: Actor) -> None:
    """No PIN of one's own any more: only the password opens."""
    require(actor, TEAM, "use a PIN")
    row = pin_of(scope, actor.staff_id)
    if row is not None:
        scope.session.delete(row)
        scope.session.flush()


def pin_of(scope: PracticeScope, staff_id: str) -> StaffPin | None:
    """The person's PIN, if they have one."""
    return scope.first(scope.select(StaffPin).where(StaffPin.staff_id == staff_id))


def open_by_pin(store: Store, here_id: str, pin: str, *, place: Place, pin_hours: int = PIN_HOURS) -> Begun:
    """Begin a log-in by PIN at a machine that knows the person.

    Parameters
    ----------
    here_id : which person of the machine (`machines.people_here`)

    Raises
    ------
    WrongPin
    PinShut
        Not known at this machine, too long ago, left, no PIN, or five wrong ones: the password opens.
    """
    staff, kept, tried = _count_try(store, here_id, place, pin_hours)
    # Reckoned outside the transaction: it takes a while on purpose.
    right = passwords.is_right(pin, kept)
    if not right:
        left = MOST_WRONG_PINS - tried
        store.trail.note(Note(kind="log_in_failed", what="wrong PIN", who=staff.id, practice_id=staff.practice_id))
        if left <= 0:
            raise PinShut(SHUT)
        raise WrongPin(
            f"This is not the PIN. {left} more {'try' if left == 1 else 'tries'}, then the password is asked"
        )
    with store.writing(staff.practice_id) as scope:
        row = scope.get(MachinePerson, here_id, "person")
        row.wrong_pins = 0
        scope.session.add(row)
        token = session_rows.begin_session(scope, staff.id, way=session_rows.PIN, place=place)
    return Begun(actor=actor_of(staff), token=token)


def _count_try(store: Store, here_id: str, place: Place, pin_hours: int) -> tuple[Staff, str, int]:
    """Count the try as wrong beforehand, so that many at the same time are not more than many in turn."""
    with store.writing() as scope:
        row = scope.session.get(MachinePerson, here_id)
        if row is None or not place.machine or row.machine != place.machine or row.left_at is not None:
            raise PinShut(SHUT)
        if now() - row.full_at > timedelta(hours=pin_hours) or row.wrong_pins >= MOST_WRONG_PINS:
            raise PinShut(SHUT)
        inside = PracticeScope(scope.session, row.practice_id)
        staff, pin = inside.get(Staff, row.staff_id, "person"), pin_of(inside, row.staff_id)
        if pin is None or staff.retired or staff.role == Role.ADMINISTRATOR.value:
            raise PinShut(SHUT)
        row.wrong_pins += 1
        scope.session.add(row)
        return staff, pin.pin_hash, row.wrong_pins
