"""What the server does by itself while it runs: once at the start, then each hour."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import date

from fastapi.concurrency import run_in_threadpool

from app.storage.database import Store
from app.work.recall_upkeep import keep_up_step, practices_kept

EVERY_SECONDS = 3600.0
"""Between two rounds."""

log = logging.getLogger("fullcount")


async def one_round(store: Store, ending: asyncio.Event) -> None:
    """Bring the recall list of every practice up to date, step by step, until the server ends."""
    for practice_id in await run_in_threadpool(practices_kept, store):
        more = True
        while more and not ending.is_set():
            more = await run_in_threadpool(keep_up_step, store, practice_id, date.today())


async def _rounds(store: Store, ending: asyncio.Event) -> None:
    while not ending.is_set():
        try:
            await one_round(store, ending)
        except Exception:
            log.exception("a round of the upkeep failed")
        try:
            await asyncio.wait_for(ending.wait(), EVERY_SECONDS)
        except TimeoutError:
            continue


@asynccontextmanager
async def upkeep(store: Store) -> AsyncIterator[asyncio.Task[None]]:
    """Rounds go on while this is open; at its end the step under way is finished, and no other begun.

    A task that is simply cancelled would leave its thread writing into a store that is being closed.
    """
    ending = asyncio.Event()
    task = asyncio.create_task(_rounds(store, ending), name="upkeep")
    try:
        yield task
    finally:
        ending.set()
        await task
