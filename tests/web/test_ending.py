"""What waits for news is told when the server begins to stop, and does not hold it up."""

from __future__ import annotations

import socket
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import httpx
import pytest
from fastapi import APIRouter, Request
from fastapi.responses import StreamingResponse

from app.settings import Settings
from app.web import access
from app.web.application import create_application
from app.web.server import Server
from tests.people import Practice

PATIENCE = 60


@pytest.fixture
def server(practice: Practice, tmp_path: Path) -> Iterator[tuple[Server, str]]:
    """A server in a thread with a page that sends news until the server ends."""
    settings = Settings(data_folder=tmp_path / "data", image_workers=0, shutdown_seconds=3600)
    application = create_application(settings)
    router = APIRouter(include_in_schema=False)

    @router.get("/news")
    async def news(request: Request) -> StreamingResponse:
        async def told() -> AsyncIterator[bytes]:
            yield b"data: begun\n\n"
            await request.app.state.ending.wait()

        return StreamingResponse(told(), media_type="text/event-stream")

    application.include_router(router)
    access.ACCESS[("GET", "/news")] = access.OPEN
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    running = Server(application, settings, lambda: None)
    thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]}, daemon=True)
    listening.listen()
    thread.start()
    yield running, f"http://127.0.0.1:{listening.getsockname()[1]}"
    running.should_exit = True
    thread.join(PATIENCE)
    del access.ACCESS[("GET", "/news")]
    assert not thread.is_alive()


def test_an_event_stream_ends_when_the_server_stops(server: tuple[Server, str]) -> None:
    running, address = server
    with httpx.Client(timeout=PATIENCE) as client, client.stream("GET", f"{address}/news") as answer:
        lines = answer.iter_lines()
        first = next(lines)
        unbuffered = answer.headers["x-accel-buffering"]
        running.should_exit = True
        rest = list(lines)

    assert (first, rest) == ("data: begun", [""])
    assert unbuffered == "no"


def test_an_event_stream_says_nothing_about_speed(server: tuple[Server, str]) -> None:
    _, address = server
    with httpx.Client(timeout=PATIENCE) as client:
        with client.stream("GET", f"{address}/news") as answer:
            next(answer.iter_lines())
        text = client.get(f"{address}/metrics").text

    assert 'fullcount_request_seconds_count{method="GET",route="/news"}' not in text
