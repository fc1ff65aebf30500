"""Under which names this server is reached: a request that names another is refused before anything is done.

Else a page of somebody else's, whose name is pointed at this machine (DNS rebinding), would count as ours; and
what is built from the name, like the address of a calendar feed, could lead elsewhere.
"""

from __future__ import annotations

import ipaddress
import re
import socket

from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from app.settings import Settings
from app.web.errors import error_answer

LOOPBACK = ("localhost", "127.0.0.1", "::1")
_WRITTEN = re.compile(
    r"(?:\[(?P<six>[0-9a-f:.]+)\]|(?P<name>[a-z0-9](?:[a-z0-9._-]*[a-z0-9_])?)\.?)(?::[0-9]{1,5})?"
)


def known_names(settings: Settings) -> frozenset[str]:
    """The names of this server in small letters: loopback, where it listens, this machine's, the setting's."""
    own = socket.gethostname().lower()
    named = (each.strip().lower() for each in settings.hosts.split(","))
    return frozenset({*LOOPBACK, settings.host.lower(), own, f"{own.split('.')[0]}.local", *named} - {""})


def name_in(header: str) -> str:
    """The name or address in a Host header, without its port; empty where it is not written as one.

    Examples
    --------
    >>> name_in("Quay.example:8123"), name_in("[::1]:80"), name_in("quay.example@elsewhere.example")
    ('quay.example', '::1', '')
    """
    found = _WRITTEN.fullmatch(header.lower())
    return (found["six"] or found["name"]) if found is not None else ""


def is_address_of_arrival(name: str, scope: Scope) -> bool:
    """Whether the name is the address, as a number, at which the request arrived: nobody can rebind a number."""
    server = scope.get("server")
    try:
        return server is not None and ipaddress.ip_address(name) == ipaddress.ip_address(server[0])
    except ValueError:
        return False


class KnownHosts:
    """Refuses requests under a name that is not ours."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app = app
        self.names = known_names(settings)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, or say what to do."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        written = [value.decode("latin-1") for name, value in scope["headers"] if name == b"host"]
        name = name_in(written[0]) if len(written) == 1 else ""
        if name and (name in self.names or is_address_of_arrival(name, scope)):
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        # Nobody is looked up under a foreign name, and no cookie is begun.
        request.state.login, request.state.new_visit = None, ""
        if not name:
            message = "The request does not say, or not in one word, which host it is for (Host)."
            await error_answer(request, 400, message)(scope, receive, send)
            return
        message = (
            f'This server is not known as "{name}". Use its own address; or if this is its name, have it added to '
            "FULLCOUNT_HOSTS and start the server again."
        )
        await error_answer(request, 421, message)(scope, receive, send)
