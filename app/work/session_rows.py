"""Log-ins as rows: begun with a new token, and ended."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass

from app.storage.columns import now
from app.storage.people import LoginSession
from app.storage.practice_scope import PracticeScope

CODE = "code"
FIRST_START = "first_start"
PASSWORD = "password"  # noqa: S105 - the name of a way in  # nosec B105
PIN = "pin"


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a request comes from.

    Parameters
    ----------
    address : of the network
    browser : in plain words
    machine : SHA-256 of the token in the machine's cookie; empty where it has none
    """

    address: str = ""
    browser: str = ""
    machine: str = ""


NOWHERE = Place()


def key_of(token: str) -> str:
    """What is kept of a token: reading the database logs nobody in."""
    return hashlib.sha256(token.encode()).hexdigest()


def begin_session(scope: PracticeScope, staff_id: str, *, way: str, place: Place = NOWHERE) -> str:
    """A new log-in; answers the token for its cookie.

    Parameters
    ----------
    way : `PASSWORD`, `CODE`, `PIN` or `FIRST_START`
    """
    token = secrets.token_urlsafe(32)
    scope.add(
        LoginSession(
            id=key_of(token),
            staff_id=staff_id,
            csrf_token=secrets.token_urlsafe(24),
            way=way,
            address=place.address,
            browser=place.browser,
            machine=place.machine,
        )
    )
    return token


def end_session(scope: PracticeScope, key: str) -> LoginSession | None:
    """End a log-in; answers its row where it was under way."""
    row = scope.session.get(LoginSession, key) if key else None
    if row is None or row.ended_at is not None:
        return None
    row.ended_at = now()
    scope.session.add(row)
    return row


def end_sessions_of(scope: PracticeScope, staff_id: str, *, but: str = "") -> int:
    """End every log-in of a person, but for one; answers how many were ended."""
    ended = 0
    for row in scope.all(scope.select(LoginSession).where(LoginSession.staff_id == staff_id)):
        if row.ended_at is None and row.id != but:
            row.ended_at = now()
            scope.session.add(row)
            ended += 1
    return ended
