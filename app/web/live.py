"""Pages that follow what colleagues do: one watcher for the whole process, and a stream for each page.

A stream carries version numbers and nothing else. The watcher feels every second whether anything was written at
all (`app.storage.pulse`), by this process or another; only then it reads the versions of what is followed, all at
once. Streams end when their log-in does, and when the server is told to stop; they keep no log-in alive.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from fastapi.concurrency import run_in_threadpool

from app.storage.database import Store
from app.storage.pulse import Pulse
from app.work.news import Subject, versions_of

LOOK_EVERY = 1.0
"""Seconds between two looks of the watcher."""

ASK_LOG_INS_EVERY = 15.0
"""Seconds after which log-ins are looked at even if nothing was written: one may have been idle too long."""

SIGN_OF_LIFE_EVERY = 20.0
"""Seconds after which a stream without news says that it is there, so that nothing on the way closes it."""

MOST_OF_ONE_PERSON = 4
"""Streams of one person; browsers open six connections to a server. The oldest page then asks by itself."""

MOST = 400
"""Streams of one process."""

log = logging.getLogger("fullcount")


@dataclass(eq=False)
class Stream:
    """One page that follows a subject.

    Parameters
    ----------
    still_in : whether the log-in of the page is still under way
    person, image : who has which image of a series before them; empty where the page shows no single image
    others : how many others have the same image before them, as the page was told last
    end : why the stream ends; empty while it goes on
    """

    practice_id: str
    staff_id: str
    subject: Subject
    still_in: Callable[[], bool]
    person: str = ""
    image: str = ""
    others: int = 0
    version: str = ""
    unread: bool = False
    met: bool = False
    end: str = ""
    news: asyncio.Event = field(default_factory=asyncio.Event)

    def tell(self, version: str) -> None:
        """There is a new version; one that the page has not read yet is passed over."""
        if version != self.version:
            self.version = version
            self.unread = True
            self.news.set()

    def close(self, why: str) -> None:
        """Nothing follows any more: ``over`` for good, ``ask`` where the page is to ask by itself."""
        self.end = self.end or why
        self.news.set()


class Live:
    """The streams of one process, and the task that watches the database for them."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._pulse = Pulse(store.engine)
        self._streams: list[Stream] = []
        self._beats = 0
        self._asked_log_ins = time.monotonic()

    @property
    def count(self) -> int:
        """How many pages follow something now."""
        return len(self._streams)

    def join(self, stream: Stream) -> bool:
        """Take a stream in; False where there are too many."""
        if len(self._streams) >= MOST:
            return False
        own = [each for each in self._streams if each.staff_id == stream.staff_id and not each.end]
        for each in own[: max(0, len(own) - MOST_OF_ONE_PERSON + 1)]:
            each.close("ask")
        self._streams.append(stream)
        self._introduce(stream)
        return True

    def people_at(self, practice_id: str, series_id: str, image: str, *, but: str) -> list[str]:
        """Who else has that image before them, by name, at a page that this process serves.

        Parameters
        ----------
        but : id of the person who asks
        """
        subject = Subject("series", series_id)
        there = {
            each.person
            for each in self._streams
            if image
            and not each.end
            and each.staff_id != but
            and (each.practice_id, each.subject, each.image) == (practice_id, subject, image)
        }
        return sorted(there)

    def _introduce(self, stream: Stream) -> None:
        """Tell those who have the same image before them that somebody came or went."""
        for each in self._streams:
            if stream.image and each.image == stream.image and each.subject == stream.subject:
                people = self.people_at(each.practice_id, each.subject.row_id, each.image, but=each.staff_id)
                if len(people) != each.others:
                    each.others = len(people)
                    each.met = True
                    each.news.set()

    def leave(self, stream: Stream) -> None:
        """The page is gone."""
        if stream in self._streams:
            self._streams.remove(stream)
            self._introduce(stream)

    async def lines(self, stream: Stream) -> AsyncIterator[bytes]:
        """What is sent to the page, as the standard of server-sent events has it."""
        try:
            yield b"retry: 5000\n\n"
            while True:
                try:
                    await asyncio.wait_for(stream.news.wait(), SIGN_OF_LIFE_EVERY)
                except TimeoutError:
                    yield b": here\n\n"
                    continue
                stream.news.clear()
                if stream.end:
                    yield f"event: {stream.end}\ndata: end\n\n".encode()
                    return
                if stream.met:
                    stream.met = False
                    yield f"event: people\ndata: {stream.others}\n\n".encode()
                if stream.unread:
                    stream.unread = False
                    yield f"data: {stream.version}\n\n".encode()
        finally:
            self.leave(stream)

    async def watch(self, ending: asyncio.Event) -> None:
        """Look once a second, until the server is told to stop."""
        while not ending.is_set():
            try:
                await asyncio.wait_for(ending.wait(), LOOK_EVERY)
            except TimeoutError:
                try:
                    await self.look()
                except Exception:
                    log.exception("a look at what pages follow failed")
        for stream in list(self._streams):
            stream.close("over")
        await run_in_threadpool(self._pulse.close)

    async def look(self) -> None:
        """Tell every page what is new to it, and end the streams whose log-in has ended."""
        if not self._streams:
            return
        streams = list(self._streams)
        idle = time.monotonic() - self._asked_log_ins > ASK_LOG_INS_EVERY
        moved = await run_in_threadpool(self._pulse.moved)
        unread = any(not each.version for each in streams)
        if moved:
            self._beats += 1
        if moved or idle:
            self._asked_log_ins = time.monotonic()
            for each in await run_in_threadpool(lambda: [s for s in streams if not s.end and not s.still_in()]):
                each.close("over")
        if moved or unread:
            versions = await run_in_threadpool(self._versions, streams)
            for each in streams:
                if each.subject.kind == "recall":
                    each.tell(f"{self._beats}")
                elif (each.practice_id, each.subject) in versions:
                    each.tell(versions[each.practice_id, each.subject])

    def _versions(self, streams: list[Stream]) -> dict[tuple[str, Subject], str]:
        wanted: dict[str, set[Subject]] = {}
        for each in streams:
            wanted.setdefault(each.practice_id, set()).add(each.subject)
        found: dict[tuple[str, Subject], str] = {}
        for practice_id, subjects in wanted.items():
            with self._store.reading(practice_id) as scope:
                for subject, version in versions_of(scope, subjects).items():
                    found[practice_id, subject] = version
        return found


@asynccontextmanager
async def following(live: Live, ending: asyncio.Event) -> AsyncIterator[None]:
    """The watcher runs while this is open."""
    task = asyncio.create_task(live.watch(ending), name="live")
    try:
        yield
    finally:
        ending.set()
        await task
