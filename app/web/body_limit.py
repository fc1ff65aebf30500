"""How large a request may be."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.exchange.json_text import MAX_BYTES as MAX_JSON_BYTES
from app.settings import Settings
from app.web.errors import error_answer

MAX_FORM_BYTES = 1_000_000
"""An ordinary form is a few kilobytes."""


class BodyLimit:
    """Refuses a request that is larger than its kind can be, before it is read where it says its length."""

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
        """Pass on, counting the bytes."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        limit = self.limit(request.headers.get("content-type", ""))
        message = f"This is larger than the {limit / 1e6:.0f} MB that are taken at once. Send less."
        length = request.headers.get("content-length", "")
        if length.isdigit() and int(length) > limit:
            request.state.login = None
            await error_answer(request, 413, message)(scope, receive, send)
            return
        seen = 0

        async def counting() -> Message:
            nonlocal seen
            part = await receive()
            seen += len(part.get("body", b""))
            if seen > limit:
                raise HTTPException(413, message)
            return part

        await self.app(scope, counting, send)
