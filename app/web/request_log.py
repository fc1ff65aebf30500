"""Each request has its number, its line in the log and its place in the metrics."""

from __future__ import annotations

import logging
import time
from typing import Any

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.web.metrics import Metrics
from app.web.request_id import HEADER, REQUEST_ID, request_id_of

log = logging.getLogger("fullcount.request")

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
NO_ROUTE = "(no such page)"


def route_of(scope: Scope) -> str:
    """The pattern of the route that answered, like ``/patients/{patient_id}``: never the address itself."""
    path = getattr(scope.get("route"), "path", None)
    if isinstance(path, str):
        return path
    return "/static" if scope.get("path", "").startswith("/static/") else NO_ROUTE


class RequestLog:
    """Numbers, times, counts and logs every request."""

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app = app
        self.metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, watching the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        began = time.perf_counter()
        request = Request(scope)
        number = request.state.request_id = request_id_of(request)
        token = REQUEST_ID.set(number)
        status, streams, cut_short = 500, False, True

        async def watched(message: Message) -> None:
            nonlocal status, streams
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = MutableHeaders(scope=message)
                headers[HEADER] = number
                streams = headers.get("content-type", "").startswith("text/event-stream")
                if streams:
                    # What a proxy before us needs to be told: news that is buffered comes late.
                    headers.setdefault("X-Accel-Buffering", "no")
            await send(message)

        try:
            await self.app(scope, receive, watched)
            cut_short = False
        finally:
            self._tell(scope, number, 500 if cut_short else status, time.perf_counter() - began, streams=streams)
            REQUEST_ID.reset(token)

    def _tell(self, scope: Scope, number: str, status: int, seconds: float, *, streams: bool) -> None:
        method = scope["method"] if scope["method"] in METHODS else "other"
        route = route_of(scope)
        # How long a page listens for news says nothing about the server's speed.
        self.metrics.answered(route, method, status, None if streams else seconds)
        log.log(
            logging.WARNING if status >= 500 else logging.INFO,
            "request",
            extra={
                "request_id": number,
                "method": method,
                "route": route,
                "status": status,
                "duration_ms": round(1000 * seconds, 1),
                "staff_id": _staff_id(scope.get("state", {}).get("login")),
            },
        )


def _staff_id(login: Any) -> str | None:
    return login.actor.staff_id if login is not None else None
