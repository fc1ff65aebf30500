"""The number of a request: on its lines in the log, in its answer's header, and on an error page."""

from __future__ import annotations

import re
import secrets
from contextvars import ContextVar

from starlette.requests import HTTPConnection

HEADER = "X-Request-ID"
REQUEST_ID: ContextVar[str] = ContextVar("request_id", default="")
"""That of the request under way; threads that work for it see it too."""

_SANE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}", re.ASCII)


def request_id_of(connection: HTTPConnection) -> str:
    """The number that a proxy before us gave, where it looks like one; else a new one.

    8 to 64 letters, digits, dots, dashes and underscores: nothing that could begin a line, or mean anything to who
    reads the log.
    """
    given = connection.headers.getlist(HEADER)
    if len(given) == 1 and _SANE.fullmatch(given[0]):
        return given[0]
    return secrets.token_hex(8)
