"""Where a page may lead to: only to pages of ours, and only to those that the person may open."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from fastapi import Request

from app.web.access import ACCESS
from app.work.actor import Actor


def own_address(text: str) -> str:
    """The address if it leads to a page of ours, else the home page.

    Examples
    --------
    >>> own_address("/patients?q=a"), own_address("//elsewhere.example"), own_address("https://elsewhere.example")
    ('/patients?q=a', '/', '/')
    """
    plain = text.startswith("/") and text.isprintable() and "\\" not in text and not text.startswith("//")
    return text if plain else "/"


def where_from(request: Request) -> str:
    """The page of ours that led here, as the browser tells; else the home page."""
    parts = urlsplit(request.headers.get("referer", ""))
    if parts.netloc != request.headers.get("host"):
        return "/"
    return own_address(parts.path + (f"?{parts.query}" if parts.query else ""))


def if_open_to(actor: Actor, address: str) -> str:
    """The address if the person's role may open it, else the home page.

    Parameters
    ----------
    address : of a page of ours, with or without a query
    """
    path = urlsplit(address).path
    fitting = [
        (pattern.count("{"), roles)
        for (method, pattern), roles in ACCESS.items()
        if method == "GET" and re.fullmatch(re.sub(r"\{[^}]*\}", "[^/]+", pattern), path)
    ]
    if not fitting:
        return "/"
    # A path without a gap wins: /series/new is not the series "new".
    _, roles = min(fitting, key=lambda each: each[0])
    return address if roles is None or actor.may(roles) else "/"
