"""A real process on a real terminal of its own, typed into as a person does."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60
"""After this long without the text waited for, the test fails with what stands on the screen."""


class Terminal:
    """The screen of a process, and its keyboard."""

    def __init__(self, process: subprocess.Popen[bytes], handle: int) -> None:
        self.process = process
        self._handle = handle
        self.screen = ""
        self._read = 0

    def until(self, text: str) -> str:
        """Wait until the text stands on the screen, below what was waited for before."""
        latest = time.monotonic() + PATIENCE_S
        while text not in self.screen[self._read :]:
            assert time.monotonic() < latest, f'"{text}" never came; the screen says:\n{self.screen}'
            ready, _, _ = select.select([self._handle], [], [], 0.2)
            if not ready:
                continue
            try:
                came = os.read(self._handle, 4096)
            except OSError:
                came = b""
            assert came, f'"{text}" did not come before the end; the screen says:\n{self.screen}'
            self.screen += came.decode()
        self._read = self.screen.index(text, self._read) + len(text)
        return self.screen

    def type(self, text: str) -> None:
        """Type a line."""
        os.write(self._handle, text.encode() + b"\n")

    def answer(self, question: str, text: str) -> None:
        """Wait for the question, then type."""
        self.until(question)
        self.type(text)

    def end(self) -> int:
        """Its exit status, once it has ended by itself."""
        while True:
            try:
                if not os.read(self._handle, 4096):
                    break
            except OSError:
                break
        return self.process.wait(PATIENCE_S)


@contextmanager
def terminal(folder: Path, *arguments: str) -> Iterator[Terminal]:
    """The program run on a terminal, with its data in a folder."""
    ours, theirs = pty.openpty()

    def take_it() -> None:
        # The terminal becomes the process's own, as after a log-in: passwords are asked for there.
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)

    process = subprocess.Popen(
        [sys.executable, "-m", "app", *arguments],
        cwd=ROOT,
        env={**os.environ, "FULLCOUNT_DATA_FOLDER": str(folder), "PYTHONUNBUFFERED": "1"},
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        start_new_session=True,
        preexec_fn=take_it,
    )
    os.close(theirs)
    try:
        yield Terminal(process, ours)
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGKILL)
        process.wait()
        os.close(ours)
