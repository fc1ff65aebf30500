"""Whether the server can do its work: asked seldom, however often somebody wants to know."""

from __future__ import annotations

import asyncio
import time

from app.settings import Settings
from app.storage.database import Store
from app.web.counted_examiner import CountedExaminer
from app.work.running import Part, parts

SECONDS = 15.0
"""An answer of the parts that takes longer is a fault: somebody who waits for it has long given up."""
FRESH_SECONDS = 2.0
"""How long an answer is given again: anybody may ask, and each asking writes and starts a worker."""
LATELY_SECONDS = 30.0
"""A worker that examined a file so lately need not be tried; busy ones are not kept from their work."""


class Readiness:
    """Tries the parts, one try at a time."""

    def __init__(self, store: Store, examiner: CountedExaminer, settings: Settings) -> None:
        self._store = store
        self._examiner = examiner
        self._settings = settings
        self._lock = asyncio.Lock()
        self._found: list[Part] = []
        self._found_at = float("-inf")

    async def parts(self) -> list[Part]:
        """Every part, with its fault where it has one."""
        async with self._lock:
            if time.monotonic() - self._found_at > FRESH_SECONDS:
                self._found = await self._tried()
                self._found_at = time.monotonic()
            return self._found

    async def _tried(self) -> list[Part]:
        try:
            async with asyncio.timeout(SECONDS):
                # Given up, not waited for: a thread that hangs is what shall be told.
                return await asyncio.to_thread(self._try)
        except TimeoutError:
            return [Part(name="time", fault=f"the parts did not answer within {SECONDS:g} seconds")]

    def _try(self) -> list[Part]:
        # What is probed here is not a file of the practice, and is not counted as one.
        examiner = None if self._examiner.answered_within(LATELY_SECONDS) else self._examiner.inner
        return parts(self._store, examiner, min_free_disk_bytes=self._settings.min_free_disk_bytes)
