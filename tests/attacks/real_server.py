"""The real server in a process of its own on the cast's data folder, and people who speak to it byte by byte."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from tests.people import PASSWORD

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 60.0
"""Seconds after which a test that waits for the server fails."""


@dataclass(frozen=True)
class RealServer:
    """A server that answers."""

    port: int
    process: subprocess.Popen[bytes]
    log: Path

    @property
    def address(self) -> str:
        """Of its home page."""
        return f"http://127.0.0.1:{self.port}"

    def lines(self) -> list[dict[str, Any]]:
        """What it has logged."""
        return [json.loads(line) for line in self.log.read_text().splitlines()]

    def connect(self) -> socket.socket:
        """A connection, by hand."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE)


@contextmanager
def real_server(folder: Path, **settings: object) -> Iterator[RealServer]:
    """A server on that data folder, which logs JSON; killed at the end where it still runs."""
    given = {"data_folder": folder, "log_format": "json", "image_workers": 1} | settings
    named = {f"FULLCOUNT_{name.upper()}": str(value) for name, value in given.items()}
    with tempfile.TemporaryDirectory(prefix="fullcount-log-") as place:
        log = Path(place) / "log"
        with open(log, "wb") as errors:
            process = subprocess.Popen(
                [sys.executable, "-m", "app", "serve", "--port", "0"],
                cwd=ROOT,
                env={**os.environ, **named, "PYTHONUNBUFFERED": "1"},
                stdout=subprocess.PIPE,
                stderr=errors,
            )
        try:
            assert process.stdout is not None
            line = process.stdout.readline().decode()
            found = re.search(r":(\d+)$", line.strip())
            assert found is not None, line + log.read_text()
            server = RealServer(int(found.group(1)), process, log)
            with httpx.Client(transport=httpx.HTTPTransport(retries=5), timeout=PATIENCE) as client:
                assert client.get(f"{server.address}/health").status_code == 200
            yield server
        finally:
            process.kill()
            process.wait()
            if process.stdout is not None:
                process.stdout.close()


class Person:
    """Somebody who has logged in, or nobody (login "")."""

    def __init__(self, server: RealServer, login: str = "") -> None:
        self.server = server
        self.http = httpx.Client(
            base_url=server.address,
            headers={"Sec-Fetch-Site": "same-origin", "Accept": "application/json"},
            timeout=PATIENCE,
        )
        if login:
            form = {"login": login, "password": PASSWORD, "csrf_token": self.token("/login")}
            answer = self.http.post("/login", data=form)
            assert answer.status_code == 303, answer.text

    def token(self, page: str = "/cautions") -> str:
        """That goes with every form."""
        text = self.http.get(page, headers={"Accept": "text/html"}).text
        found = re.search(r'<meta name="csrf-token" content="([^"]*)"', text)
        assert found is not None
        return found.group(1)

    def head(self, method: str, path: str, *more: str) -> bytes:
        """The head of a request of this person, to be sent by hand."""
        cookies = "; ".join(f"{each.name}={each.value}" for each in self.http.cookies.jar)
        lines = [
            f"{method} {path} HTTP/1.1",
            f"Host: 127.0.0.1:{self.server.port}",
            "Sec-Fetch-Site: same-origin",
            "Accept: application/json",
            *([f"Cookie: {cookies}"] if cookies else []),
            *more,
        ]
        return ("\r\n".join(lines) + "\r\n\r\n").encode()

    def close(self) -> None:
        """Give back the connection."""
        self.http.close()


def upload_body(token: str, files: Sequence[tuple[str, bytes]]) -> tuple[str, bytes]:
    """Content type and body of a form with files."""
    request = httpx.Request(
        "POST",
        "http://x/",
        data={"csrf_token": token},
        files=[("files", (name, data, "image/png")) for name, data in files],
    )
    return request.headers["content-type"], request.read()


def answer_of(connection: socket.socket) -> tuple[int, str]:
    """Status and text of the answer; (0, "") where the connection was closed without one."""
    came = b""
    try:
        while part := connection.recv(65_536):
            came += part
            head, found, body = came.partition(b"\r\n\r\n")
            length = re.search(rb"content-length: (\d+)", head.lower())
            if found and length is not None and len(body) >= int(length.group(1)):
                break
    except ConnectionResetError:
        pass
    if not came:
        return 0, ""
    return int(came.split()[1]), came.partition(b"\r\n\r\n")[2].decode("utf-8", "replace")
