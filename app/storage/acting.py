"""Who is acting, as the last check of their role said: so that what they correct carries their name."""

from __future__ import annotations

from contextvars import ContextVar

_acting: ContextVar[str | None] = ContextVar("acting", default=None)


def now_acts(staff_id: str) -> None:
    """Say who acts from here on, in this request or command."""
    _acting.set(staff_id)


def who_acts() -> str | None:
    """The id of who acts; None where the program works by itself."""
    return _acting.get()
