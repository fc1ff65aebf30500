"""The other end of the line: ``python -m app.imaging.worker_process FD MEMORY``, started by `Workers` only."""

from __future__ import annotations

import resource
import signal
import sys
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any


def answer(task: tuple[Any, ...]) -> Any:
    """The result of a task; where it was refused, its three parts; MemoryError where memory ran out.

    Anything else ends this process: what it leaves behind cannot be trusted.
    """
    from app.imaging.errors import ImageRefused
    from app.imaging.examine import examined, likenesses_of

    try:
        if task[0] == "examine":
            return examined(Path(task[1]).read_bytes(), task[2])
        return likenesses_of(task[1], task[2])
    except ImageRefused as error:
        return (error.name, error.what, error.mend)
    except MemoryError:
        return MemoryError()


def serve(line: Connection, memory_bytes: int) -> None:
    """Answer tasks until the line closes."""
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    # A Ctrl-C in the terminal reaches the whole group; the server ends its workers itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    while True:
        try:
            task = line.recv()
        except (EOFError, OSError):
            return
        line.send(answer(task))


if __name__ == "__main__":
    serve(Connection(int(sys.argv[1])), int(sys.argv[2]))
