"""The second factor: one-time codes of RFC 6238 from a telephone, and recovery codes for the day it is lost.

The secret must be readable to the server, which reckons the codes itself: it lies in the database as it is.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hmac import compare_digest

import pyotp
from sqlmodel import col

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.logins import RecoveryCode, SecondFactor
from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.work.actor import ADMINISTRATORS, EVERYBODY, Actor, require
from app.work.session_rows import key_of

STEP_S = 30
"""Length of a time step, seconds (RFC 6238, section 5.2: "We RECOMMEND a default time-step size of 30 seconds";
from memory)."""

DRIFT_STEPS = 1
"""Steps before and after the present one whose codes are taken, for clocks that differ."""

DIGITS = 6

WAITS_FOR = timedelta(minutes=30)
"""How long a new secret is shown and waits for its first code."""

RECOVERY_CODES = 10
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of recovery codes: none can be taken for another. Fifteen are 74 bits, so that a plain SHA-256 keeps them."""


@dataclass(frozen=True, kw_only=True)
class FactorState:
    """How it stands with a person's second factor.

    Parameters
    ----------
    secret : to be shown once more, while it waits for its first code; else empty
    codes_left : recovery codes not yet used
    off_at, off_by : when an administrator switched it off, and their name; None and empty otherwise
    """

    on: bool
    secret: str = ""
    since: datetime | None = None
    codes_left: int = 0
    off_at: datetime | None = None
    off_by: str = ""


def code_at(secret: str, step: int, *, digits: int = DIGITS) -> str:
    """The code of a time step.

    Parameters
    ----------
    secret : base 32
    step : whole steps of 30 s since 1970
    """
    return pyotp.HOTP(secret, digits=digits).at(step)


def step_of(moment: datetime) -> int:
    """The time step in which a moment lies."""
    return int(moment.timestamp()) // STEP_S


def step_that_shows(secret: str, code: str, moment: datetime, *, after: int) -> int | None:
    """The step near a moment whose code this is; None where it is none of them.

    Parameters
    ----------
    after : the newest step whose code was taken: it and those before it are taken no more
    """
    typed = "".join(code.split())
    middle = step_of(moment)
    matching = None
    for step in range(middle - DRIFT_STEPS, middle + DRIFT_STEPS + 1):
        # All are compared, so that the time does not tell which one was near.
        if compare_digest(code_at(secret, step).encode(), typed.encode()) and step > after:
            matching = step
    return matching


def is_on(scope: PracticeScope, staff_id: str) -> bool:
    """Whether a code is asked of the person after the password."""
    row = _row(scope, staff_id)
    return row is not None and bool(row.secret) and row.confirmed_at is not None


def takes(scope: PracticeScope, staff_id: str, code: str) -> bool:
    """Whether the code is right; it is then used up. A recovery code does as well."""
    row = _row(scope, staff_id)
    if row is None or not row.secret or row.confirmed_at is None:
        return False
    step = step_that_shows(row.secret, code, now(), after=row.last_step)
    if step is not None:
        row.last_step = step
        scope.session.add(row)
        return True
    return _takes_recovery(scope, staff_id, code)


def _takes_recovery(scope: PracticeScope, staff_id: str, code: str) -> bool:
    typed = "".join(letter for letter in code.lower() if letter in LETTERS)
    query = scope.select(RecoveryCode).where(RecoveryCode.staff_id == staff_id)
    row = scope.first(query.where(RecoveryCode.code_hash == key_of(typed), col(RecoveryCode.used_at).is_(None)))
    if row is None:
        return False
    row.used_at = now()
    scope.session.add(row)
    return True


def begin_factor(scope: PracticeScope, actor: Actor) -> str:
    """A new secret, which counts once a code of it was typed; answers it in base 32.

    Raises
    ------
    InputError
        Where one is in use: it must be switched off first.
    """
    require(actor, EVERYBODY, "set up a second factor")
    if is_on(scope, actor.staff_id):
        raise InputError("code", "your second factor is on already. Switch it off before you set up another")
    row = _row(scope, actor.staff_id) or SecondFactor(staff_id=actor.staff_id, secret="")  # nosec B106
    row.secret, row.begun_at, row.confirmed_at = pyotp.random_base32(), now(), None
    scope.add(row)
    return row.secret


def confirm_factor(scope: PracticeScope, actor: Actor, code: str) -> list[str]:
    """The first code was typed: from now on one is asked for. Answers the recovery codes, which are shown once.

    Raises
    ------
    InputError
        At ``code``.
    """
    require(actor, EVERYBODY, "set up a second factor")
    row = _row(scope, actor.staff_id)
    if row is None or not _waits(row):
        raise InputError("code", "nothing waits for a code. Begin setting up once more")
    step = step_that_shows(row.secret, code, now(), after=row.last_step)
    if step is None:
        raise InputError(
            "code", "this is not the code that is shown now. Check the clock of both, and type it again"
        )
    row.confirmed_at, row.last_step = now(), step
    row.off_at, row.off_by = None, None
    scope.session.add(row)
    return _new_codes(scope, actor.staff_id)


def renew_codes(scope: PracticeScope, actor: Actor) -> list[str]:
    """Ten new recovery codes; the earlier ones open nothing.

    Raises
    ------
    InputError
        Where no second factor is on.
    """
    require(actor, EVERYBODY, "have new recovery codes")
    if not is_on(scope, actor.staff_id):
        raise InputError("code", "your second factor is off. Set it up first")
    return _new_codes(scope, actor.staff_id)


def _new_codes(scope: PracticeScope, staff_id: str) -> list[str]:
    _drop_codes(scope, staff_id)
    codes = []
    for _ in range(RECOVERY_CODES):
        letters = "".join(secrets.choice(LETTERS) for _ in range(15))
        scope.add(RecoveryCode(staff_id=staff_id, code_hash=key_of(letters)), at_once=False)
        codes.append("-".join(letters[start : start + 5] for start in range(0, 15, 5)))
    return codes


def _drop_codes(scope: PracticeScope, staff_id: str) -> None:
    for row in scope.all(scope.select(RecoveryCode).where(RecoveryCode.staff_id == staff_id)):
        scope.session.delete(row)


def switch_off_factor(scope: PracticeScope, actor: Actor, staff_id: str) -> None:
    """No code is asked for any more: one's own, or an administrator's doing for a colleague, who is told.

    Raises
    ------
    InputError
        Where the practice asks administrators for one, and this would be one's own.
    """
    staff = scope.get(Staff, staff_id, "person")
    if staff.id != actor.staff_id:
        require(actor, ADMINISTRATORS, "switch off a colleague's second factor")
    elif scope.practice().second_factor_asked and (staff.administers or actor.may(ADMINISTRATORS)):
        raise InputError("present_password", "your practice asks administrators for a second factor")
    drop_factor(scope, staff.id, by="" if staff.id == actor.staff_id else actor.staff_id)


def drop_factor(scope: PracticeScope, staff_id: str, *, by: str = "") -> None:
    """No code is asked of the person; who may do that is for the caller to have asked.

    Parameters
    ----------
    by : id of the administrator, whom the person's page then names
    """
    row = _row(scope, staff_id)
    if row is None or not row.secret:
        return
    row.secret, row.confirmed_at = "", None
    if by:
        row.off_at, row.off_by = now(), by
    scope.session.add(row)
    _drop_codes(scope, staff_id)


def factor_of(scope: PracticeScope, staff_id: str) -> FactorState:
    """How it stands with a person's second factor."""
    row = _row(scope, staff_id)
    if row is None:
        return FactorState(on=False)
    on = bool(row.secret) and row.confirmed_at is not None
    query = scope.select(RecoveryCode).where(
        RecoveryCode.staff_id == staff_id, col(RecoveryCode.used_at).is_(None)
    )
    by = scope.find(Staff, row.off_by)
    return FactorState(
        on=on,
        secret=row.secret if _waits(row) else "",
        since=row.confirmed_at,
        codes_left=len(scope.all(query)) if on else 0,
        off_at=row.off_at,
        off_by=by.name if by is not None else "",
    )


def _waits(row: SecondFactor) -> bool:
    return bool(row.secret) and row.confirmed_at is None and now() - row.begun_at <= WAITS_FOR


def ask_administrators(scope: PracticeScope, actor: Actor, *, asked: bool) -> None:
    """Whether the practice asks its administrators for a second factor.

    Raises
    ------
    InputError
        Where whoever asks for it has none: they would shut themselves out.
    """
    require(actor, ADMINISTRATORS, "ask administrators for a second factor")
    if asked and not is_on(scope, actor.staff_id):
        raise InputError("asked", "set up your own second factor first, under Your log-in")
    practice = scope.practice()
    practice.second_factor_asked = asked
    scope.session.add(practice)


def _row(scope: PracticeScope, staff_id: str) -> SecondFactor | None:
    return scope.first(scope.select(SecondFactor).where(SecondFactor.staff_id == staff_id))
