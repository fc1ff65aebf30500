"""What each role may know of the backups."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.work import backups
from app.work.actor import ADMINISTRATORS

ROOMS = (backups,)

USE_CASES: dict[str, tuple[frozenset[Any], Callable[..., object]]] = {
    "backup_state": (
        ADMINISTRATORS,
        lambda scope, actor, on: backups.backup_state(on.practice.store, actor, warning_days=3),
    ),
}
