"""The real application on a data folder of its own, in a thread, for tests that must not share one."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from playwright.sync_api import Browser, Page

from app.settings import Settings
from app.web.application import create_application


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The address of a server on that data folder."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(create_application(Settings(data_folder=folder)), log_level="warning"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        while not server.started:
            assert thread.is_alive(), "the server did not start; its output is above"
            time.sleep(0.02)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(timeout=10)
        listening.close()


def logged_in(browser: Browser, address: str, login: str, password: str) -> Page:
    """A page of a tablet's size on which somebody has logged in."""
    page = browser.new_context(viewport={"width": 1024, "height": 768}, base_url=address).new_page()
    page.goto("/login")
    page.fill("#f-login", login)
    page.fill("#f-password", password)
    page.click("main button[type=submit]")
    page.wait_for_selector("html[data-ready]")
    return page
