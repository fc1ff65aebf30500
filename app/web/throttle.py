"""Tries at the door: where they come from, and how they are slowed (`app.work.tries` says by which rule)."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TypeVar

from fastapi import Request

from app.core.errors import FullcountError
from app.storage.database import Store
from app.web.browsers import browser_words
from app.web.cookies import machine_of
from app.web.rendering import FieldError
from app.work import passwords, tries
from app.work.actor import Actor
from app.work.own_password import own_hash
from app.work.session_rows import Place
from app.work.tries import Kind

R = TypeVar("R")

AT_ONCE = threading.BoundedSemaphore(4)
"""Secrets checked at the same time: each check takes 64 MiB on purpose."""


class MustWait(FullcountError):
    """Too many tries have failed: the next one must wait a little."""

    def __init__(self, wait_s: int) -> None:
        self.wait_s = wait_s
        super().__init__(f"Several tries have failed. Wait {wait_s} seconds, then try again.")

    @property
    def headers(self) -> dict[str, str]:
        """What the answer carries for programs."""
        return {"Retry-After": str(self.wait_s)}


def place_of(request: Request) -> Place:
    """Where the request comes from."""
    return Place(
        address=request.client.host[:80] if request.client is not None else "",
        browser=browser_words(request.headers.get("user-agent", "")),
        machine=machine_of(request),
    )


def slowed(store: Store, kind: Kind, who: str, place: Place, attempt: Callable[[], R]) -> R:
    """Make a try, or say how long to wait; whatever error it raises counts as a failure.

    Raises
    ------
    MustWait
    """
    admission = tries.admit(store, kind, who, place)
    if admission.wait_s:
        raise MustWait(admission.wait_s)
    with AT_ONCE:
        done = attempt()
    tries.was_right(store, admission)
    return done


class _Wrong(FullcountError):
    pass


def password_again(
    request: Request, store: Store, actor: Actor, password: str, *, field: str = "present_password"
) -> tuple[FieldError, ...]:
    """What is wrong with one's password, given once more for something that matters; empty where it is right."""

    def attempt() -> None:
        if not passwords.is_right(password, own_hash(store, actor)):
            raise _Wrong

    try:
        slowed(store, Kind.AGAIN, actor.staff_id, place_of(request), attempt)
    except MustWait as slow:
        return (FieldError(field=field, message=str(slow)),)
    except _Wrong:
        return (FieldError(field=field, message="This is not your present password. Type it again."),)
    return ()
