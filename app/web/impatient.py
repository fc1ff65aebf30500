"""The server's side of one connection, which does not wait for ever.

Who sends the head of a request slowly, sends nothing at all, or does not read the answer, holds a connection and
what hangs on it. The server itself waits; here it is cut. How slowly a body may come is counted in `body_limit`,
where it is read.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol

from app.settings import Settings

MAX_HEAD_BYTES = 65_536
"""Of a request line with its headers that has not ended. What browsers send is under 8 kilobytes."""


class ImpatientConnection(HttpToolsProtocol):
    """One connection, with a time for the head of each request and for each standstill of its answer."""

    settings: Settings

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._head_came = 0
        self._in_head = True
        self._unwanted = False
        self._head_timer: asyncio.TimerHandle | None = None
        self._answer_timer: asyncio.TimerHandle | None = None

    # What the connection tells us

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody connects: a request must begin, and its head must come."""
        super().connection_made(transport)
        self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody is there any more."""
        self._stop_head_timer()
        self._stop_answer_timer()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Something came: of a head, of a body, or what is left of a body that nobody wants any more."""
        if self._in_head:
            self._head_came += len(data)
            if self._head_timer is None:
                self._await_head()
        super().data_received(data)
        too_large = self._in_head and not self._unwanted and self._head_came > MAX_HEAD_BYTES
        if too_large and not self.transport.is_closing():
            self._refuse(431, "The head of this request is larger than 64 kilobytes. Send less.")

    def pause_writing(self) -> None:
        """The answer stands still, because who asked does not read it."""
        super().pause_writing()
        if self._answer_timer is None:
            self._answer_timer = self.loop.call_later(self.settings.body_seconds, self.transport.abort)

    def resume_writing(self) -> None:
        """It goes on."""
        super().resume_writing()
        self._stop_answer_timer()

    # What the parser tells us

    def on_headers_complete(self) -> None:
        """The head is whole."""
        self._in_head = False
        self._stop_head_timer()
        super().on_headers_complete()

    def on_response_complete(self) -> None:
        """The answer is sent: the next head, or the rest of a body that was answered early, has its own time."""
        if not self.pipeline:
            self._in_head = True
            self._head_came = 0
            self._unwanted = self.cycle.more_body
            if self._unwanted:
                # What is left of it may come, for a while: closing at once would cut off the answer, too.
                self._await_head()
        super().on_response_complete()

    def on_message_complete(self) -> None:
        """The body is whole."""
        if self._unwanted:
            self._unwanted = False
            self._head_came = 0
            self._stop_head_timer()
        super().on_message_complete()

    # What we do

    def _await_head(self) -> None:
        self._stop_head_timer()
        self._head_timer = self.loop.call_later(self.settings.header_seconds, self._head_too_slow)

    def _stop_head_timer(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None

    def _stop_answer_timer(self) -> None:
        if self._answer_timer is not None:
            self._answer_timer.cancel()
            self._answer_timer = None

    def _head_too_slow(self) -> None:
        self._head_timer = None
        if self.transport.is_closing():
            return
        if self._head_came > 0 and not self._unwanted:
            self._refuse(408, "The head of this request did not come in time. Send it again.")
        else:
            self.transport.close()

    def _refuse(self, status: int, message: str) -> None:
        text = message.encode("ascii")
        self.transport.write(
            STATUS_LINE[status]
            + b"content-type: text/plain; charset=utf-8\r\ncontent-length: "
            + str(len(text)).encode("ascii")
            + b"\r\nconnection: close\r\n\r\n"
            + text
        )
        self.transport.close()


def impatient(settings: Settings) -> type[ImpatientConnection]:
    """The kind of connection that these settings ask for."""
    return type("ImpatientConnection", (ImpatientConnection,), {"settings": settings})
