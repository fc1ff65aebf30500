"""Starts servers quickly: a process that has read the program once splits off a server for each line it is told.

Each server is a process of its own, as ``python -m app serve`` makes it; what is saved is reading the modules.

Run as ``python -m tests.durability.preloaded``; a line is JSON: the environment, the arguments, the file for what
it prints, and a file of Python that is run in it first (or null). Answers the process's number.
"""

from __future__ import annotations

import json
import os
import runpy
import signal
import sys
import traceback

from app.cli import main
from app.imaging import workers
from app.web.application import routers

READY = (routers(), workers)


def be_the_server(told: dict[str, object]) -> None:
    """Never returns."""
    status = 70
    try:
        os.setsid()
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        out = os.open(str(told["out"]), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.dup2(out, 1)
        os.dup2(out, 2)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.environ.update(told["environment"])  # type: ignore[call-overload]
        if told["first"]:
            runpy.run_path(str(told["first"]))
        status = main(list(told["arguments"]))  # type: ignore[call-overload]
    except SystemExit as ended:
        status = ended.code if isinstance(ended.code, int) else 1
    except BaseException:
        traceback.print_exc()
    finally:
        print(f"\n[ended with {status}]", flush=True)
        os._exit(status)


if __name__ == "__main__":
    # Whoever ends is taken away at once, so that its number answers no more.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for line in sys.stdin:
        number = os.fork()
        if number == 0:
            be_the_server(json.loads(line))
        print(number, flush=True)
