"""Who is doing it: the person at the door, and what their role allows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.core.errors import FullcountError
from app.storage.acting import now_acts


class Role(StrEnum):
    """The roles of a practice."""

    ASSISTANT = "assistant"
    """Takes series, reviews images, closes what is complete."""
    DENTIST = "dentist"
    """Prescribes, authorises retakes, signs off, sets up the practice; and all an assistant does."""
    FRONT_DESK = "front_desk"
    """Registers patients; sees no images."""
    ADMINISTRATOR = "administrator"
    """Keeps the log-ins, the trail, the backups and the retention; sees no patient."""


CHAIRSIDE = frozenset({Role.ASSISTANT, Role.DENTIST})
DENTISTS = frozenset({Role.DENTIST})
DESK = frozenset({Role.DENTIST, Role.FRONT_DESK})
TEAM = frozenset({Role.ASSISTANT, Role.DENTIST, Role.FRONT_DESK})
"""Whoever works with patients."""
ADMINISTRATORS = frozenset({Role.ADMINISTRATOR})
EVERYBODY = frozenset(Role)

ROLE_NAMES = {
    Role.ASSISTANT: "assistant",
    Role.DENTIST: "dentist",
    Role.FRONT_DESK: "front desk",
    Role.ADMINISTRATOR: "administrator",
}

WHOEVER = {
    Role.ASSISTANT: "an assistant",
    Role.DENTIST: "a dentist",
    Role.FRONT_DESK: "the front desk",
    Role.ADMINISTRATOR: "an administrator",
}
"""The roles as a sentence about anybody of them names them."""


class NotAllowed(FullcountError):
    """The person's role does not allow it; the sentence says whose does."""


@dataclass(frozen=True, kw_only=True)
class Actor:
    """The person who does something.

    Parameters
    ----------
    administers : whether they administer the program beside their own role, as in a small practice
    """

    staff_id: str
    practice_id: str
    name: str
    role: Role
    administers: bool = False

    @property
    def duties(self) -> str:
        """What the person is here, in words, with the duty beside the role."""
        besides = self.administers and self.role is not Role.ADMINISTRATOR
        return f"{ROLE_NAMES[self.role]}, also administers the program" if besides else ROLE_NAMES[self.role]

    def may(self, roles: frozenset[Role]) -> bool:
        """Whether one of the person's roles is among these."""
        return self.role in roles or (self.administers and Role.ADMINISTRATOR in roles)


def require(actor: Actor, roles: frozenset[Role], what: str) -> None:
    """Let the roles through, and remember who acts: what they change is noted under their name.

    Parameters
    ----------
    what : completes "… may …", like "review images"

    Raises
    ------
    NotAllowed
        For everybody else.
    """
    if not actor.may(roles):
        *others, last = (WHOEVER[role] for role in Role if role in roles)
        allowed = f"{', '.join(others)} or {last}" if others else last
        raise NotAllowed(
            f"Only {allowed} may {what}. You are logged in as {ROLE_NAMES[actor.role]}: ask a colleague."
        )
    now_acts(actor.staff_id)
