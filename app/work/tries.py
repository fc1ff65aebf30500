"""Slows down guessing without locking anybody out. Kept in the database: a restart forgets nothing.

Failures are counted three ways: at one place with one name (*own*), at one address whatever the name, and with one
name wherever from. After a few, the next try must wait, longer each time, up to a limit; a right one then opens.

Nobody's failures elsewhere slow a person down where they belong. At a machine that knows them (its cookie), only
what failed with their name at that machine counts; at an address from which anybody has logged in rightly of late,
only what failed with that name at that address. That rule is the same for names that nobody has, so that waiting
does not tell which names exist.

A try is counted as failed before it is made, and taken back when it was right: many at once are no more than many
in turn. Names are kept as 20 bits of their SHA-256 only, because people type passwords into the wrong field.
"""

from __future__ import annotations

import hashlib
import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from sqlalchemy import delete
from sqlmodel import col, select

from app.storage.columns import now
from app.storage.database import Store
from app.storage.logins import MachinePerson, TryCount
from app.storage.people import LoginSession, Staff
from app.storage.practice_scope import PracticeScope
from app.work.machines import KNOWN_FOR
from app.work.session_rows import Place


class Kind(StrEnum):
    """What is tried."""

    PASSWORD = "password"  # noqa: S105 - the name of what is tried  # nosec B105
    CODE = "code"
    """Of the second factor."""
    PIN = "pin"
    AGAIN = "again"
    """One's password once more, while logged in."""
    FIRST_START = "first"


@dataclass(frozen=True, kw_only=True)
class Rule:
    """How one count slows tries down (our choice, no source).

    Parameters
    ----------
    free : failures before waiting begins
    longest_s : longest wait, seconds
    forgotten_s : seconds after the last failure when the count begins anew
    """

    free: int
    longest_s: int
    forgotten_s: int

    def wait_s(self, failures: int, since_s: float) -> int:
        """Whole seconds that the next try must still wait.

        Parameters
        ----------
        failures : so far, the last of them ``since_s`` seconds ago; negative where the clock was set back

        Examples
        --------
        >>> [OWN.wait_s(failures, 0) for failures in (4, 5, 6, 9, 500)]
        [0, 2, 4, 30, 30]
        """
        if failures < self.free or not 0 <= since_s <= self.forgotten_s:
            return 0
        wait = min(self.longest_s, 2 ** min(failures - self.free + 1, 20))
        return max(0, -int(-(wait - since_s) // 1))


OWN = Rule(free=5, longest_s=30, forgotten_s=15 * 60)
ADDRESS = Rule(free=30, longest_s=60, forgotten_s=60 * 60)
NAME = Rule(free=10, longest_s=5 * 60, forgotten_s=60 * 60)

KEPT_FOR = timedelta(days=1)
"""Counts that nothing was added to for so long are deleted."""


@dataclass(frozen=True, kw_only=True)
class Admission:
    """Whether a try may be made.

    Parameters
    ----------
    wait_s : seconds to wait first; 0: make it, it is counted already
    keys : of the counts it stands in, one's own first
    """

    wait_s: int
    keys: tuple[str, ...]


def admit(store: Store, kind: Kind, who: str, place: Place) -> Admission:
    """Let a try be made, counting it as failed until `was_right`; or say how long to wait.

    Parameters
    ----------
    who : the log-in name as typed; for a person who is known already, their id
    """
    name = who.strip().lower()
    moment = now()
    with store.reading() as scope:
        seen = _look(scope, kind, name, place, moment)
    if seen.wait_s:
        # A flood of tries that must wait takes nobody's turn to write.
        return Admission(wait_s=seen.wait_s, keys=seen.keys)
    with store.writing() as scope:
        scope.session.execute(delete(TryCount).where(col(TryCount.last_at) < moment - KEPT_FOR))
        seen = _look(scope, kind, name, place, moment)
        if not seen.wait_s:
            for key, rule, row in seen.counts:
                _count(scope, key, rule, row, moment)
    return Admission(wait_s=seen.wait_s, keys=seen.keys)


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """How the counts stand, and how long they ask to wait."""

    wait_s: int
    counts: list[tuple[str, Rule, TryCount | None]]

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(key for key, _, _ in self.counts)


def _look(scope: PracticeScope, kind: Kind, name: str, place: Place, moment: datetime) -> _Seen:
    known = _known_here(scope, name, place)
    counts = [
        (key, rule, scope.session.get(TryCount, key)) for key, rule in _rules(kind, name, place, known=known)
    ]
    # Where the person belongs, only their own count is asked; all are kept.
    asked = counts[:1] if known or _is_trusted(scope, place) else counts
    waits = [
        rule.wait_s(row.failures, (moment - row.last_at).total_seconds())
        for _, rule, row in asked
        if row is not None
    ]
    return _Seen(wait_s=max(waits, default=0), counts=counts)


def was_right(store: Store, admission: Admission) -> None:
    """The try was right: its own count is forgotten, and it is taken out of the others."""
    with store.writing() as scope:
        for index, key in enumerate(admission.keys):
            row = scope.session.get(TryCount, key)
            if row is None:
                continue
            row.failures -= 1
            if index == 0 or row.failures <= 0:
                scope.session.delete(row)
            else:
                scope.session.add(row)


def _count(scope: PracticeScope, key: str, rule: Rule, row: TryCount | None, moment: datetime) -> None:
    if row is None:
        row = TryCount(key=key, last_at=moment)
    if (moment - row.last_at).total_seconds() > rule.forgotten_s:
        row.failures = 0
    row.failures, row.last_at = row.failures + 1, moment
    scope.session.add(row)


def _rules(kind: Kind, name: str, place: Place, *, known: bool) -> list[tuple[str, Rule]]:
    address = _network(place.address)
    bucket = hashlib.sha256(f"{kind}|{name}".encode()).hexdigest()[:5]
    where = f"machine {place.machine}" if known else f"address {address}"
    own = hashlib.sha256(f"{bucket}|{where}".encode()).hexdigest()[:32]
    rules = [(f"{kind}:own:{own}", OWN)]
    if kind in (Kind.PASSWORD, Kind.CODE):
        rules += [(f"{kind}:at:{address}", ADDRESS), (f"{kind}:name:{bucket}", NAME)]
    return rules


def _network(address: str) -> str:
    """The address; of IPv6 the half that one subscriber cannot choose freely.

    Examples
    --------
    >>> _network("192.0.2.7"), _network("2001:db8::1:2:3:4"), _network("testclient")
    ('192.0.2.7', '2001:db8::', 'testclient')
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address[:40]
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    return str(ipaddress.IPv6Network((found, 64), strict=False).network_address)


def _known_here(scope: PracticeScope, name: str, place: Place) -> bool:
    """Whether the machine knows the person of that name or id."""
    query = (
        select(MachinePerson.id)
        .where(MachinePerson.machine == (place.machine or "none"))
        .where(MachinePerson.staff_id == Staff.id)
        .where((col(Staff.login) == name) | (col(Staff.id) == name))
        .where(MachinePerson.full_at > now() - KNOWN_FOR)
    )
    return scope.session.exec(query).first() is not None


def _is_trusted(scope: PracticeScope, place: Place) -> bool:
    """Whether anybody has logged in rightly from that address of late."""
    query = (
        select(LoginSession.id)
        .where(LoginSession.address == (place.address or "none"))
        .where(LoginSession.created_at > now() - KNOWN_FOR)
        .limit(1)
    )
    return scope.session.exec(query).first() is not None
