"""Who is at work, and from where: set once at the door, known wherever something is written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

COMMAND_LINE = "command line"
PROGRAM = "program"


@dataclass(frozen=True, kw_only=True)
class Doing:
    """Who is at work.

    Parameters
    ----------
    who, practice_id : ids; empty where nobody is known
    acting_as : role in which they act
    from_where : network address, "command line" or "program"
    through : route or command, without anything that was typed
    """

    who: str = ""
    practice_id: str = ""
    acting_as: str = ""
    from_where: str = PROGRAM
    request_id: str = ""
    through: str = ""


_present: ContextVar[Doing | None] = ContextVar("doing", default=None)
_NOBODY = Doing()


def present() -> Doing:
    """Who is at work here and now; the program itself where no door has said otherwise."""
    return _present.get() or _NOBODY


def begin(doing: Doing) -> None:
    """From here on, in this request and the threads that it hands work to, this is who is at work."""
    _present.set(doing)


@contextmanager
def doing(who: Doing) -> Iterator[None]:
    """Who is at work inside the block."""
    before = _present.set(who)
    try:
        yield
    finally:
        _present.reset(before)
