"""A real server on a data folder, and a person's log-in on it."""

from __future__ import annotations

import atexit
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import httpx
import psutil

from app.storage.database import Store
from app.storage.people import LoginSession
from app.work import log_ins
from app.work.session_rows import key_of
from tests.people import PASSWORD, Practice

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 120.0
RADIOGRAPHS = sorted((ROOT / "seed" / "radiographs").glob("*.jpg"))
"""Files of simulated radiographs, as a practice's would come."""


@dataclass(frozen=True)
class Server:
    """A running server.

    Parameters
    ----------
    number : of its process
    out : the file with all that it prints
    """

    number: int
    address: str
    out: Path

    def kill(self) -> list[int]:
        """End it on the spot, as a power cut would, and wait until it is gone; the numbers of its workers."""
        workers = [each.pid for each in psutil.Process(self.number).children(recursive=True)]
        os.kill(self.number, signal.SIGKILL)
        wait_until_gone(self.number)
        return workers

    def end(self) -> None:
        """End it in order."""
        if is_running(self.number):
            os.kill(self.number, signal.SIGTERM)
            wait_until_gone(self.number)


def is_running(number: int) -> bool:
    """Whether a process has that number, and has not ended."""
    try:
        return psutil.Process(number).status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


def wait_until_gone(number: int) -> None:
    """Until no process has that number, or only one that has ended."""
    end = time.monotonic() + PATIENCE_S
    while is_running(number):
        assert time.monotonic() < end, f"process {number} does not end"
        time.sleep(0.01)


@cache
def _preloaded() -> subprocess.Popen[str]:
    words = [sys.executable, "-m", "tests.durability.preloaded"]
    process = subprocess.Popen(words, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def end() -> None:
        assert process.stdin is not None
        process.stdin.close()
        process.wait(10)

    atexit.register(end)
    return process


@contextmanager
def serving(
    folder: Path, *, before: Sequence[str] = (), first: str = "", workers: int = 0, environment: Any = None
) -> Iterator[Server]:
    """A server on that data folder.

    Parameters
    ----------
    before : words put before the command, like those that take rights away
    first : Python that is run in the server's process before it starts
    """
    out = folder.with_name(f"{folder.name}-{time.monotonic_ns()}.out")
    given = {"FULLCOUNT_DATA_FOLDER": str(folder), "FULLCOUNT_IMAGE_WORKERS": str(workers), **(environment or {})}
    number = _started(out, before, first, given)
    server = None
    try:
        server = Server(number, _address(out, number), out)
        yield server
    finally:
        if is_running(number):
            os.kill(number, signal.SIGTERM)
            wait_until_gone(number)


def refused(folder: Path) -> tuple[int, str]:
    """The exit status and the words of a server that does not start on that data folder."""
    out = folder.with_name(f"{folder.name}-{time.monotonic_ns()}.out")
    number = _started(out, (), "", {"FULLCOUNT_DATA_FOLDER": str(folder), "FULLCOUNT_IMAGE_WORKERS": "0"})
    end = time.monotonic() + PATIENCE_S
    while not (found := re.search(r"\n\[ended with (\d+)\]", said := out.read_text() if out.exists() else "")):
        if "answers at" in said or time.monotonic() > end:
            os.kill(number, signal.SIGKILL)
            raise AssertionError(f"the server started: {said}")
        time.sleep(0.01)
    return int(found[1]), said[: found.start()]


def _started(out: Path, before: Sequence[str], first: str, given: dict[str, str]) -> int:
    if before:
        words = [*before, sys.executable, "-m", "app", "serve", "--port", "0"]
        with open(out, "wb") as file:
            process = subprocess.Popen(words, cwd=ROOT, stdout=file, stderr=file, env={**os.environ, **given})
        return process.pid
    script = out.with_suffix(".py")
    script.write_text(first)
    told = {
        "environment": given,
        "arguments": ["serve", "--port", "0"],
        "out": str(out),
        "first": str(script) if first else None,
    }
    preloaded = _preloaded()
    assert preloaded.stdin is not None
    assert preloaded.stdout is not None
    preloaded.stdin.write(json.dumps(told) + "\n")
    preloaded.stdin.flush()
    return int(preloaded.stdout.readline())


def _address(out: Path, number: int) -> str:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        said = out.read_text() if out.exists() else ""
        found = re.search(r"answers at (http://\S+)\n", said)
        if found:
            return found[1]
        assert is_running(number), f"the server did not start: {said}"
        time.sleep(0.01)
    raise AssertionError("the server does not answer")


@dataclass(frozen=True)
class LogIn:
    """A person's cookie and the token of their forms."""

    cookie: str
    csrf_token: str

    def client(self, server: Server) -> httpx.Client:
        """Their browser."""
        return httpx.Client(
            base_url=server.address,
            cookies={"fullcount_login": self.cookie},
            headers={"Accept": "text/html", "Sec-Fetch-Site": "same-origin"},
            timeout=PATIENCE_S,
        )


def log_in(practice: Practice, login: str = "tomke", *, minutes_ago: int = 0) -> LogIn:
    """A log-in made before the server starts; the practice's store is closed afterwards."""
    token = log_ins.log_in(practice.store, login=login, password=PASSWORD).token
    with practice.store.reading() as scope:
        row = scope.session.get(LoginSession, key_of(token))
        assert row is not None
        csrf_token = row.csrf_token
    with practice.store.writing() as scope:
        again = scope.session.get(LoginSession, row.id)
        assert again is not None
        again.last_seen_at -= timedelta(minutes=minutes_ago)
        scope.session.add(again)
    practice.store.close()
    return LogIn(token, csrf_token)


def upload(client: httpx.Client, log_in: LogIn, series_id: str, files: Sequence[Path]) -> httpx.Response:
    """Load files into a series, in one batch, as the page's script does."""
    return client.post(
        f"/series/{series_id}/images",
        data={"csrf_token": log_in.csrf_token},
        files=[("files", (each.name, each.read_bytes(), "image/jpeg")) for each in files],
        headers={"Accept": "application/json"},
    )


def opened(folder: Path) -> Store:
    """The data folder, as the program would open it again."""
    store = Store(folder)
    store.migrate()
    return store
