"""The command line: ``python -m app COMMAND``.

Results go to standard output as JSON where a program would read them, messages to standard error. Exit status:
0 done; 1 done with findings; 2 the input or the call is wrong, told in one line without a traceback.
"""

from __future__ import annotations

import importlib
import os
import sys

from app.core.errors import FullcountError, did_you_mean
from app.storage.trail_doing import COMMAND_LINE, Doing, doing

COMMANDS: dict[str, str] = {
    "serve": "runs the web server; --demo with an invented practice in a throw-away folder",
    "administrator": "sets a new password for an administrator who forgot theirs, or makes one",
    "config": "shows the settings in force, each with where it came from",
    "backup": "copies the data folder while the server goes on; --check reads a backup through",
    "restore": "makes a data folder of a backup, in an empty place",
    "audit": "reads a series file and answers its audit as JSON",
    "inspect": "measures radiographs and tells what it finds, one JSON object a line",
    "simulate": "makes a synthetic radiograph with its ground truth",
    "template": "template check FILE|ID: which targets each slot covers, how often, and which are not",
    "verify": "proves the trail's chain and that every image file is what was recorded; reads only",
}
"""Each command, one module of this package with ``run(arguments) -> exit status``."""


def usage() -> str:
    """The commands, a line each."""
    width = max(len(name) for name in COMMANDS)
    lines = [f"  {name:<{width}}  {what}" for name, what in COMMANDS.items()]
    return "usage: python -m app COMMAND …\n\n" + "\n".join(lines) + "\n\npython -m app COMMAND --help tells more."


def main(arguments: list[str]) -> int:
    """Run one command and answer its exit status."""
    if not arguments:
        print(usage(), file=sys.stderr)
        return 2
    name, *rest = arguments
    if name in ("-h", "--help", "help"):
        print(usage())
        return 0
    if name not in COMMANDS:
        print(f'no command "{name}".{did_you_mean(name, COMMANDS)}\n\n{usage()}', file=sys.stderr)
        return 2
    try:
        module = importlib.import_module(f"app.cli.{name}")
        with doing(Doing(from_where=COMMAND_LINE, through=name)):
            status: int = module.run(rest)
        sys.stdout.flush()
        return status
    except FullcountError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader of our output left (as `head` does); nothing is wrong with the input.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 130
