"""``serve``: a real process answers at the address it prints, and ends cleanly."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

ROOT = Path(__file__).resolve().parents[2]


@contextmanager
def served(folder: Path, *arguments: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The address printed by a server on an empty folder, and its process."""
    process = subprocess.Popen(
        [sys.executable, "-m", "app", "serve", "--port", "0", *arguments],
        cwd=ROOT,
        env={**os.environ, "FULLCOUNT_DATA_FOLDER": str(folder), "PYTHONUNBUFFERED": "1"},
        # A service has no terminal: on one it would ask.
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found is not None, line + (process.stderr.read() if process.stderr else "")
        yield found.group(), process
    finally:
        process.kill()
        process.communicate()


def answered(address: str) -> httpx.Response:
    with httpx.Client(transport=httpx.HTTPTransport(retries=5), timeout=30) as client:
        return client.get(address, follow_redirects=True)


def test_an_empty_folder_gets_a_code_and_the_first_start(tmp_path: Path) -> None:
    with served(tmp_path / "data") as (address, process):
        page = answered(address)
        assert process.stdout is not None
        told = process.stdout.readline() + process.stdout.readline()

    assert "Set up your practice" in page.text
    assert f"{address}/first-start" in told
    assert re.search(r"^  [a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}$", told, re.MULTILINE)


@pytest.mark.parametrize("told", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_quietly_when_it_is_told_to(tmp_path: Path, told: signal.Signals) -> None:
    with served(tmp_path / "data") as (address, process):
        answered(f"{address}/health")
        process.send_signal(told)
        _, errors = process.communicate(timeout=30)

    lines = [line.split()[1] for line in errors.splitlines()]

    assert (process.returncode, set(lines)) == (0, {"INFO"})


def test_a_port_that_is_taken_is_told_in_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        result = subprocess.run(
            [sys.executable, "-m", "app", "serve", "--port", str(port)],
            cwd=ROOT,
            env={**os.environ, "FULLCOUNT_DATA_FOLDER": str(tmp_path / "data")},
            capture_output=True,
            text=True,
            timeout=60,
        )

    assert result.returncode == 2
    assert result.stderr == (
        f"127.0.0.1:{port}: cannot be listened on (Address already in use). Choose another with --host or --port\n"
    )


def test_a_port_that_cannot_be_is_told_in_one_line(tmp_path: Path) -> None:
    result = subprocess.run(
        [sys.executable, "-m", "app", "serve", "--port", "70000"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )

    assert result.returncode == 2
    assert result.stderr == (
        "--port: Input should be less than or equal to 65535; 70000 stood there. Correct it: port to "
        "listen on; 0 for any free one (by default 8123).\n"
    )


def test_whoever_says_that_they_stand_behind_a_proxy_is_not_believed(tmp_path: Path) -> None:
    """Nor is a name believed that is not this server's."""
    with (
        served(tmp_path / "data") as (address, _),
        httpx.Client(transport=httpx.HTTPTransport(retries=5), timeout=30) as client,
    ):
        plain = client.get(f"{address}/health", headers={"X-Forwarded-Proto": "https"})
        foreign = client.get(f"{address}/health", headers={"Host": "evil.example"})

    assert plain.status_code == 200
    assert "strict-transport-security" not in plain.headers
    assert foreign.status_code == 421
