"""The work list keeps up with the calendar by itself: a little when it is looked at, all of it each hour.

Each step is a transaction of its own, so that nobody who writes waits for more than one step.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import date
from time import monotonic

from sqlmodel import select

from app.storage.database import Store
from app.storage.practice import Practice
from app.work.recall_recompute import recompute_stale, stale_count

STEP = 250
"""Patients worked out in one transaction: some tenths of a second."""

LOOK_SECONDS = 1.0
"""How long somebody who opens the list waits for it at most, besides the last step."""

log = logging.getLogger("fullcount")


def catch_up(
    store: Store, practice_id: str, today: date, *, seconds: float = LOOK_SECONDS, step: int = STEP
) -> int:
    """Work out lines that wait, one step at least, and no further step once the time is over.

    Returns
    -------
    int
        Lines that still wait.
    """
    begun = monotonic()
    while True:
        # First a look without the write lock: mostly nothing waits.
        with store.reading(practice_id) as scope:
            waiting = stale_count(scope, today)
        if not waiting:
            return 0
        with store.writing(practice_id) as scope:
            recompute_stale(scope, today, limit=step, newcomers=False)
        if monotonic() - begun >= seconds:
            with store.reading(practice_id) as scope:
                return stale_count(scope, today)


def practices_kept(store: Store) -> Sequence[str]:
    """The ids of every practice in the database."""
    with store.reading() as scope:
        return scope.session.exec(select(Practice.id).order_by(Practice.id)).all()


def keep_up_step(store: Store, practice_id: str, today: date, *, step: int = STEP) -> bool:
    """One small transaction of the hourly upkeep of one practice: what waits, and patients without a line.

    What goes wrong is written to the log, and tried again in the next round: one practice must not stop another.

    Returns
    -------
    bool
        Whether there may be more to do.
    """
    try:
        with store.writing(practice_id) as scope:
            return recompute_stale(scope, today, limit=step) == step
    except Exception:
        log.exception("the recall list of a practice could not be brought up to date")
        return False
