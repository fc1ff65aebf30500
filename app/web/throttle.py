"""Slows down guessing of passwords without locking anybody out.

Failures are counted for one log-in name from one address. After a few, the next try there must wait a little,
longer each time but never longer than half a minute; a right password then still opens. Other names and other
addresses are not slowed, so nobody can shut out a colleague. Kept in memory: a restart forgets it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

FREE_FAILURES = 5
"""Tries that may fail before waiting begins (common practice, no source)."""

LONGEST_WAIT_S = 30.0
FORGOTTEN_AFTER_S = 15 * 60.0
MOST_KEPT = 10_000


class Throttle:
    """Failures by (address, name) with the moment of the last.

    Parameters
    ----------
    clock : seconds, never going back
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._failures: dict[tuple[str, str], tuple[int, float]] = {}
        self._lock = threading.Lock()

    def wait_s(self, address: str, name: str) -> int:
        """Whole seconds that the next try there must still wait; 0 where it need not."""
        with self._lock:
            failures, last = self._failures.get((address, name), (0, 0.0))
            since = self._clock() - last
            if failures < FREE_FAILURES or since > FORGOTTEN_AFTER_S:
                return 0
            wait = min(LONGEST_WAIT_S, 2.0 ** (failures - FREE_FAILURES + 1))
            return max(0, -int(-(wait - since) // 1))

    def failed(self, address: str, name: str) -> None:
        """Note a failure."""
        with self._lock:
            moment = self._clock()
            failures, last = self._failures.get((address, name), (0, moment))
            if moment - last > FORGOTTEN_AFTER_S:
                failures = 0
            # The oldest make room, so that made-up names cannot fill the memory.
            while len(self._failures) >= MOST_KEPT:
                self._failures.pop(next(iter(self._failures)))
            self._failures.pop((address, name), None)
            self._failures[(address, name)] = (failures + 1, moment)

    def succeeded(self, address: str, name: str) -> None:
        """Forget the failures there."""
        with self._lock:
            self._failures.pop((address, name), None)
