"""How large a request may be, how slowly it may come, and in which form."""

from __future__ import annotations

import asyncio

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.exchange.json_text import MAX_BYTES as MAX_JSON_BYTES
from app.settings import Settings
from app.web.errors import error_answer

MAX_FORM_BYTES = 1_000_000
"""An ordinary form is a few kilobytes."""
MAX_ADDRESS_BYTES = 8_000
"""Of path and query; RFC 9110, section 4.1, asks for 8000 octets at least (from memory)."""
MAX_HEADERS_BYTES = 32_000
"""Of all names and values together."""
MAX_HEADERS = 100


class BodyLimit:
    """Refuses a request that is larger or slower than its kind can be, unread where it can be told before."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app = app
        self.settings = settings

    def limit(self, content_type: str) -> int:
        """Bytes that a request of that content type may have."""
        if content_type.startswith("multipart/form-data"):
            return self.settings.max_request_bytes
        if content_type.startswith("application/x-www-form-urlencoded"):
            return MAX_FORM_BYTES
        return max(MAX_JSON_BYTES, MAX_FORM_BYTES)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, counting bytes and seconds."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        limit = self.limit(request.headers.get("content-type", ""))
        refusal = _refused_unread(request, limit)
        if refusal is not None:
            request.state.login = None
            answer = error_answer(request, *refusal)
            await answer(scope, receive, send)
            return
        await self.app(scope, _Measured(receive, limit, self.settings).receive, send)


class _Measured:
    """Hands on the parts of a body, and stops where there are too many or they come too slowly."""

    def __init__(self, receive: Receive, limit: int, settings: Settings) -> None:
        self._receive = receive
        self._limit = limit
        self._stall = settings.body_seconds
        self._rate = settings.min_bytes_per_second
        self._seen = 0
        self._waited = 0.0
        self._whole = False

    async def receive(self) -> Message:
        """The next part.

        Raises
        ------
        HTTPException
            413 for too many bytes, 408 for too slow.
        """
        if self._whole:
            # All that can still come is that the other side goes away: there is no hurry.
            return await self._receive()
        clock = asyncio.get_running_loop().time
        began = clock()
        try:
            async with asyncio.timeout(self._stall + self._seen / self._rate - self._waited):
                part = await self._receive()
        except TimeoutError:
            message = "This did not arrive in time: nothing of it was kept. Check the network, and send it again."
            raise HTTPException(408, message) from None
        # Only waiting counts: who is slow to read is us.
        self._waited += clock() - began
        self._seen += len(part.get("body", b""))
        self._whole = not part.get("more_body", False)
        if self._seen > self._limit:
            raise HTTPException(413, _too_large(self._limit))
        return part


def _too_large(limit: int) -> str:
    return f"This is larger than the {limit / 1e6:.0f} MB that are taken at once. Send less."


def _refused_unread(request: Request, limit: int) -> tuple[int, str] | None:
    """Status and message where the head of a request says enough to refuse it."""
    scope = request.scope
    if len(scope.get("raw_path", b"")) + len(scope["query_string"]) > MAX_ADDRESS_BYTES:
        return 414, f"This address is longer than {MAX_ADDRESS_BYTES:,} characters. Begin at the home page."
    sizes = [len(name) + len(value) for name, value in scope["headers"]]
    if len(sizes) > MAX_HEADERS or sum(sizes) > MAX_HEADERS_BYTES:
        return 431, "The head of this request is larger than any browser's. Remove the cookies of this site."
    if request.headers.get("content-encoding", "identity").strip().lower() not in ("", "identity"):
        return 415, "This came packed, and is taken only as it is. Send it without Content-Encoding."
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length[:20]) > limit:
        return 413, _too_large(limit)
    return None
