"""No other site can act in a person's name.

Two checks on every unsafe method. First, the browser itself says where the request comes from (``Sec-Fetch-Site``,
else ``Origin``): only our own pages may. Second, every form carries a token, in the field ``csrf_token`` or the
header ``X-CSRF-Token``: of the log-in session, or before there is one, of the visit (a random cookie whose hash is
the token). A program without a browser sends neither; it may call only what is listed here.
"""

from __future__ import annotations

import hashlib
import secrets
from urllib.parse import urlsplit

from fastapi import Request

from app.core.errors import FullcountError

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
VISIT_COOKIE = "fullcount_visit"
FIELD = "csrf_token"
HEADER = "X-CSRF-Token"

OPEN_TO_PROGRAMS = frozenset({"/api/audit"})
"""Needs no token and no browser: it reads nothing of the practice and keeps nothing."""


class ForeignRequest(FullcountError):
    """The request does not come from one of our own pages."""


def check_origin(request: Request) -> None:
    """Refuse an unsafe method that another site asked for.

    Raises
    ------
    ForeignRequest
    """
    if request.method in SAFE_METHODS:
        return
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    if site is None and origin is None:
        if request.url.path in OPEN_TO_PROGRAMS:
            return
    elif site is not None:
        if site in ("same-origin", "none"):
            return
    elif origin is not None and urlsplit(origin).netloc == request.headers.get("host"):
        return
    raise ForeignRequest(
        "This was sent from another site, so nothing was done. Open the page here and send it again."
    )


async def check_token(request: Request) -> None:
    """Refuse an unsafe method without the token of this log-in or visit.

    Raises
    ------
    ForeignRequest
    """
    if request.method in SAFE_METHODS or request.url.path in OPEN_TO_PROGRAMS:
        return
    given = request.headers.get(HEADER)
    if given is None:
        form = await request.form()
        field = form.get(FIELD)
        given = field if isinstance(field, str) else ""
    expected = token_of(request)
    if not expected or not secrets.compare_digest(given.encode(), expected.encode()):
        raise ForeignRequest(
            "This page had been open too long, so nothing was done. Go back, load the page again and repeat it."
        )


def token_of(request: Request) -> str:
    """The token that forms of this log-in or visit carry; empty where there is neither."""
    if request.state.login is not None:
        return str(request.state.login.csrf_token)
    visit = request.cookies.get(visit_cookie(request)) or getattr(request.state, "new_visit", "")
    return hashlib.sha256(f"form:{visit}".encode()).hexdigest() if visit else ""


def visit_cookie(request: Request) -> str:
    """Name of the visit's cookie; behind HTTPS browsers hold the ``__Host-`` name to this host and path."""
    return f"__Host-{VISIT_COOKIE}" if request.app.state.settings.secure_cookies else VISIT_COOKIE


def begin_visit(request: Request) -> None:
    """Give an anonymous visitor something that a token can be made of."""
    if (
        request.state.login is None
        and not request.cookies.get(visit_cookie(request))
        and not hasattr(request.state, "new_visit")
    ):
        request.state.new_visit = secrets.token_urlsafe(24)
