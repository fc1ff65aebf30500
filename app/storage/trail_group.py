"""Entries that must be on disk before something is shown: written together with whatever arrives meanwhile.

Eighteen pictures of one page ask at about the same time. Whoever comes first writes; the others wait, and the next
of them writes for all who have come in the meantime. So there are two or three transactions, not eighteen, and
nobody goes on before their own entry is committed.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass

from app.core.trail import compact_json
from app.storage.practice_scope import PracticeScope
from app.storage.trail_notes import Note, TrailNotWritten, note

SAME_VIEW_S = 600.0
"""Seconds within which a person's seeing the same thing again from the same place is one entry (our choice)."""

REMEMBERED = 20_000
"""Recent entries kept in mind for that; of older ones, seeing the same again is a further entry."""


@dataclass(eq=False)
class _Waiting:
    note: Note
    done: bool = False
    error: BaseException | None = None


class TrailWriter:
    """Writes notes from many threads, several in one transaction.

    Parameters
    ----------
    writing : opens a writing transaction that seals itself (`Store.writing`)
    """

    def __init__(self, writing: Callable[[], AbstractContextManager[PracticeScope]]) -> None:
        self._writing = writing
        self._turn = threading.Lock()
        self._list = threading.Lock()
        self._waiting: list[_Waiting] = []
        self._lately: dict[tuple[str, ...], float] = {}

    def note(self, said: Note) -> None:
        """Put it into the trail; it is committed when this returns.

        Raises
        ------
        TrailNotWritten
            Whatever was to be shown or sent must not be.
        """
        mine = _Waiting(said.here())
        with self._list:
            self._waiting.append(mine)
        with self._turn:
            if not mine.done:
                self._write_all()
        if mine.error is not None:
            raise TrailNotWritten(
                "This could not be put into the trail of who saw what, so it is not shown. "
                "Tell whoever looks after the program: the disk may be full or the database locked."
            ) from mine.error

    def note_once(self, said: Note, *, within_s: float) -> bool:
        """The same, unless the same was noted a short while ago; whether a new entry was written."""
        said = said.here()
        return self.note_lately(_key(said), lambda: said, within_s=within_s)

    def note_lately(self, key: tuple[str, ...], said: Callable[[], Note], *, within_s: float) -> bool:
        """Note it, unless something was noted under this key a short while ago; whether it was.

        Parameters
        ----------
        said : makes the note, only where one is written
        within_s : seconds that count as a short while, from when the entry was written
        """
        # Not the clock of the day: that one can be set back.
        moment = time.monotonic()
        with self._list:
            before = self._lately.get(key)
        if before is not None and moment - before < within_s:
            return False
        self.note(said())
        with self._list:
            self._lately.pop(key, None)
            self._lately[key] = moment
            while len(self._lately) > REMEMBERED:
                del self._lately[next(iter(self._lately))]
        return True

    def _write_all(self) -> None:
        with self._list:
            batch, self._waiting = self._waiting, []
        try:
            with self._writing() as scope:
                for each in batch:
                    note(scope, each.note)
        except BaseException as error:
            for each in batch:
                each.error = error
            if not isinstance(error, Exception):
                raise
        finally:
            for each in batch:
                each.done = True


def _key(said: Note) -> tuple[str, ...]:
    doing = said.doing
    who = (doing.who, doing.from_where) if doing is not None else ("", "")
    return (*who, said.who, said.kind, said.what, said.patient_id, said.series_id, compact_json(said.details))
