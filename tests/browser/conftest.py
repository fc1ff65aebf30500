"""The real server as a process of its own, and Debian's Chromium driving it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from tests.people import PASSWORD, Practice, founded

ROOT = Path(__file__).resolve().parents[2]

CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESKTOP = {"width": 1280, "height": 800}
TABLET = {"width": 1024, "height": 768}


@dataclass(frozen=True)
class Running:
    """A server that answers."""

    address: str
    practice: Practice


def start_server(arguments: list[str], environment: dict[str, str]) -> tuple[subprocess.Popen[str], str]:
    """Start ``serve`` and wait until it says where it answers; its output is shown when it dies instead."""
    process = subprocess.Popen(
        [sys.executable, "-m", "app", "serve", "--port", "0", *arguments],
        cwd=ROOT,
        env=os.environ | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert process.stdout is not None
    said: list[str] = []
    for line in process.stdout:
        said.append(line)
        found = re.search(r"http://[0-9.:a-z\[\]]+", line)
        if found:
            # Whatever it says from now on must not fill the pipe.
            threading.Thread(target=process.stdout.read, daemon=True).start()
            return process, found.group().rstrip("/.")
    raise AssertionError("the server ended before it answered:\n" + "".join(said))


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server on a practice with the whole cast; the tests of this folder share it."""
    folder = tmp_path_factory.mktemp("browser") / "data"
    practice = founded(folder)
    process, address = start_server([], {"FULLCOUNT_DATA_FOLDER": str(folder)})
    yield Running(address, practice)
    process.terminate()
    process.wait(timeout=20)
    practice.store.close()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.fail("Chromium is missing. Install it: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium: Browser, server: Running) -> Iterator[Callable[..., Page]]:
    """Opens a page, logged in as somebody; every page must keep an empty console and ask no other host."""
    complaints: list[str] = []
    contexts = []

    def opened(login: str | None = "tomke", size: dict[str, int] = DESKTOP, **options: object) -> Page:
        context = chromium.new_context(viewport=size, base_url=server.address, **options)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("console", lambda line: complaints.append(line.text) if is_complaint(line) else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "request",
            lambda request: (
                None
                if request.url.startswith((server.address, "blob:", "data:"))
                else complaints.append(f"asked {request.url}")
            ),
        )
        if login is not None:
            log_in(page, login)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


def is_complaint(line: ConsoleMessage) -> bool:
    """An error on the console, but for the browser's own line about a file refused in words (409, 413, 422)."""
    if line.location["url"].endswith("/no-such-page"):
        return False
    return line.type == "error" and re.search(r"status of (409|413|422)", line.text) is None


def log_in(page: Page, login: str) -> None:
    """Log in as one of the cast."""
    page.goto("/login")
    page.get_by_label("Log-in name").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.locator("main button[type=submit]").click()
    page.wait_for_url("**/")
