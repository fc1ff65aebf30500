"""The cookies: of the log-in, of the half-finished log-in, of the machine.

All are random, HttpOnly, and (behind HTTPS) Secure with the ``__Host-`` name, which holds them to this host. The
log-in's is SameSite=Lax, not Strict: somebody who follows a link from a mail or a calendar is then still logged
in. Nothing is lost by it, for Lax sends it along only when a page is opened, which changes nothing here; every
write is refused unless it comes from our own page and carries the token of the log-in (`csrf`). The other two are
Strict: no link from elsewhere needs them.
"""

from __future__ import annotations

from typing import Literal

from fastapi import Request
from fastapi.responses import Response

from app.settings import Settings
from app.work.log_ins import HALF_LASTS
from app.work.machines import KNOWN_FOR
from app.work.session_rows import key_of

SESSION_COOKIE = "fullcount_login"
HALF_COOKIE = "fullcount_half"
MACHINE_COOKIE = "fullcount_machine"


def full_name(name: str, settings: Settings) -> str:
    """The cookie's name; behind HTTPS browsers hold the ``__Host-`` name to this host and path."""
    return f"__Host-{name}" if settings.secure_cookies else name


def session_cookie(settings: Settings) -> str:
    """Name of the log-in cookie."""
    return full_name(SESSION_COOKIE, settings)


def cookie_of(request: Request, name: str) -> str:
    """What the browser sent under one of our names; empty where nothing."""
    settings: Settings = request.app.state.settings
    return request.cookies.get(full_name(name, settings), "")


def machine_of(request: Request) -> str:
    """Key of the machine that asks; empty where it has no cookie."""
    token = cookie_of(request, MACHINE_COOKIE)
    return key_of(token) if token else ""


def give(answer: Response, settings: Settings, name: str, token: str) -> None:
    """Put a cookie into the answer."""
    strict: Literal["lax", "strict"] = "lax" if name == SESSION_COOKIE else "strict"
    lasts = {HALF_COOKIE: HALF_LASTS, MACHINE_COOKIE: KNOWN_FOR}.get(name)
    answer.set_cookie(
        full_name(name, settings),
        token,
        max_age=int(lasts.total_seconds()) if lasts is not None else None,
        httponly=True,
        samesite=strict,
        secure=settings.secure_cookies,
        path="/",
    )


def take(answer: Response, settings: Settings, name: str) -> None:
    """Have the browser forget a cookie."""
    answer.delete_cookie(full_name(name, settings), path="/", secure=settings.secure_cookies, httponly=True)
