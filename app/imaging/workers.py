"""Processes beside the server that decode and measure files, each under a limit of memory and of time.

A file that asks for too much ends its worker at most; the next file gets a fresh one. Workers are started anew,
not forked, so that they share no lock with the threads of the server. Files cross as files, results are small. A
worker ends when its end of the line closes, whatever becomes of the server.
"""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from app.imaging.errors import ImageRefused
from app.imaging.examine import Examination, Examined, examined
from app.imaging.likeness import Likeness, Sketch

WORKERS = 2
SECONDS = 20.0
"""Time for one file. The largest usual one takes under a second, 40 million pixels about five."""
MEMORY_BYTES = 3_000_000_000
"""Address space of a worker: some 700 MB are libraries; 40 million pixels in colour take another 1,000."""
ROOT = Path(__file__).resolve().parents[2]


class _Worker:
    """One process and the line to it."""

    def __init__(self, memory_bytes: int) -> None:
        ours, theirs = socket.socketpair()
        with theirs:
            # One thread each for the numerical libraries: two workers use the two cores.
            single = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
            here = os.pathsep.join(each for each in (str(ROOT), os.environ.get("PYTHONPATH", "")) if each)
            self.process = subprocess.Popen(  # noqa: S603 - our own module, no shell  # nosec B603
                [sys.executable, "-m", "app.imaging.worker_process", str(theirs.fileno()), str(memory_bytes)],
                pass_fds=(theirs.fileno(),),
                env=os.environ | single | {"PYTHONPATH": here},
                stdin=subprocess.DEVNULL,
                # What decoding libraries mutter about a file is no line of the log; a refusal is told in words.
                stderr=subprocess.DEVNULL,
            )
        self.line = Connection(ours.detach())

    def ask(self, task: tuple[Any, ...], seconds: float) -> Any:
        """The answer, or TimeoutError, or EOFError where the worker has ended."""
        self.line.send(task)
        if not self.line.poll(seconds):
            raise TimeoutError
        return self.line.recv()

    def end(self) -> None:
        """End the process now."""
        self.line.close()
        self.process.kill()
        self.process.wait()


class Workers:
    """A pool of examiners in processes of their own; each starts when it is first needed.

    Parameters
    ----------
    count : processes, and files examined at once
    seconds : for one file
    memory_bytes : address space of each process
    """

    def __init__(
        self, count: int = WORKERS, *, seconds: float = SECONDS, memory_bytes: int = MEMORY_BYTES
    ) -> None:
        self.at_once = count
        self.seconds = seconds
        self.memory_bytes = memory_bytes
        self._free = threading.Semaphore(count)
        self._lock = threading.Lock()
        self._resting: list[_Worker] = []
        self._busy: set[_Worker] = set()
        self._closed = False

    def examine(self, data: bytes, wanted: Examination) -> Examined:
        """Decode, measure and sketch one file in a worker.

        Raises
        ------
        ImageRefused
            The file is no image that can be taken, or reading it took more time or memory than it may.
        """
        if len(data) > wanted.limits.max_bytes:
            # No need to carry it over: the decoder refuses it unread, here as there.
            return examined(data, wanted)
        with tempfile.NamedTemporaryFile(prefix="fullcount-") as file:
            file.write(data)
            file.flush()
            answer = self._ask(("examine", file.name, wanted), wanted.name)
        assert isinstance(answer, Examined)
        return answer

    def likenesses(self, sketch: Sketch, others: Sequence[Path | Sketch]) -> list[Likeness | None]:
        """How an image is a copy of each of the others, in a worker."""
        if not others:
            return []
        found: list[Likeness | None] = self._ask(("likenesses", sketch, list(others)), "comparison")
        return found

    def close(self) -> None:
        """End every worker; files still under way are refused."""
        with self._lock:
            self._closed = True
            ending = [*self._resting, *self._busy]
            self._resting.clear()
        for worker in ending:
            worker.end()

    def _ask(self, task: tuple[Any, ...], name: str) -> Any:
        with self._free:
            worker = self._taken(name)
            alive = False
            try:
                answer = worker.ask(task, self.seconds)
                # After a shortage of memory what is left of it may be in pieces.
                alive = not isinstance(answer, MemoryError)
            except TimeoutError:
                raise ImageRefused(
                    name,
                    f"reading it took more than {self.seconds:g} seconds, and was given up",
                    "Export it anew from where it was taken, at its own size, and load that",
                ) from None
            except (EOFError, OSError):
                raise ImageRefused(
                    name,
                    "reading it brought the reader down",
                    "Export it anew from where it was taken and load that; the file may be damaged",
                ) from None
            finally:
                self._give_back(worker, alive=alive)
        if isinstance(answer, MemoryError):
            raise ImageRefused(
                name,
                f"reading it needs more than the {self.memory_bytes / 1e9:g} GB of memory that one file may take",
                "Export it at its own size, as an 8-bit or 16-bit grey image, and load that",
            )
        if isinstance(answer, tuple):
            raise ImageRefused(*answer)
        return answer

    def _taken(self, name: str) -> _Worker:
        with self._lock:
            if self._closed:
                raise ImageRefused(name, "the server is stopping", "Load it again when the server is back")
            worker = self._resting.pop() if self._resting else None
            if worker is not None and worker.process.poll() is not None:
                worker.end()
                worker = None
            worker = worker or _Worker(self.memory_bytes)
            self._busy.add(worker)
            return worker

    def _give_back(self, worker: _Worker, *, alive: bool) -> None:
        with self._lock:
            self._busy.discard(worker)
            if alive and not self._closed:
                self._resting.append(worker)
                return
        with contextlib.suppress(OSError):
            worker.end()
