"""The server: ends what is under way when it is told to stop, and ends at once when it is told again."""

from __future__ import annotations

import asyncio
import os
import socket
from collections.abc import Callable
from types import FrameType

import uvicorn
from fastapi import FastAPI

from app.settings import Settings
from app.web.impatient import impatient

ENDED_AT_ONCE = 1
"""Exit status after a second signal."""


class Server(uvicorn.Server):
    """Serves one application.

    Parameters
    ----------
    clear_up : called before the process ends at once
    """

    def __init__(self, application: FastAPI, settings: Settings, clear_up: Callable[[], None]) -> None:
        super().__init__(
            uvicorn.Config(
                application,
                loop="uvloop",
                http=impatient(settings),
                ws="none",
                log_config=None,
                access_log=False,
                server_header=False,
                # The application itself believes the proxies that the settings name, and nobody else.
                proxy_headers=False,
                date_header=True,
                limit_concurrency=settings.max_connections,
                timeout_graceful_shutdown=settings.shutdown_seconds,
            )
        )
        self._application = application
        self._clear_up = clear_up

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """The first signal begins the end; a second one is the end."""
        if self.should_exit:
            self._clear_up()
            # Threads may be at work, and nothing may wait for them. What was acknowledged is on the disk.
            os._exit(ENDED_AT_ONCE)
        super().handle_exit(sig, frame)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Take nobody new, let what waits for news go, and wait for the rest as long as the settings say."""
        ending: asyncio.Event = self._application.state.ending
        ending.set()
        await super().shutdown(sockets)
