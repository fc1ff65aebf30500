"""Whether the trail stands as it was written: from the first entry to the head, in pieces of bounded size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Engine, func, select
from sqlmodel import SQLModel

from app.core.trail import ChainCheck, Finding
from app.storage.trail import TrailEntry, TrailHead, entry_of

AT_ONCE = 2000
"""Entries read in one query."""

MOST_LISTED = 100
"""Findings listed one by one; the rest are counted."""

SHORTEST_HASH = 16
"""Hexadecimal digits of a noted hash that are asked for: 64 bits, too many to hit by trying (our choice)."""


@dataclass
class TrailChecked:
    """What the trail holds, and what is wrong with it."""

    entries: int = 0
    head_number: int = 0
    head_hash: str = ""
    clock_went_back: int = 0
    findings: list[Finding] = field(default_factory=list)
    not_listed: int = 0

    def add(self, found: Finding) -> None:
        """List it, or count it where the list is long already."""
        if len(self.findings) < MOST_LISTED:
            self.findings.append(found)
        else:
            self.not_listed += 1


def check_trail(engine: Engine, expected: Mapping[int, str]) -> TrailChecked:
    """Follow the chain as far as the head that stands now; what is added meanwhile is left for the next time.

    Parameters
    ----------
    expected : heads noted earlier, number to hash (or its beginning): each must still stand in the chain
    """
    checked = TrailChecked()
    head: Any = SQLModel.metadata.tables[str(TrailHead.__tablename__)]
    entries: Any = SQLModel.metadata.tables[str(TrailEntry.__tablename__)]
    last = select(func.max(entries.c.number)).scalar_subquery()
    with engine.connect() as connection:
        # One statement sees head and last entry as they belong together, whatever is added meanwhile.
        found = connection.execute(select(head.c.number, head.c.hash, last)).first()
    if found is None:
        checked.add(Finding(code="head_gone", number=0, message="the head of the trail is gone"))
        with engine.connect() as connection:
            end = connection.execute(select(func.max(entries.c.number))).scalar() or 0
    else:
        checked.head_number, checked.head_hash = found[0], found[1]
        end = max(found[0], found[2] or 0)
    chain = ChainCheck()
    for row in _rows(engine, entries, end):
        checked.entries += 1
        for each in chain.read(entry_of(row), row.hash):
            checked.add(each)
        noted = expected.get(row.number)
        if noted is not None and not row.hash.startswith(noted):
            message = f"entry {row.number} is not the one that was noted: the chain was written anew"
            checked.add(Finding(code="expected_head_differs", number=row.number, message=message))
    checked.clock_went_back = chain.clock_back
    if found is not None:
        for each in chain.end(checked.head_number, checked.head_hash):
            checked.add(each)
    for number in sorted(each for each in expected if each > end):
        message = f"the trail ends at {end}, before the noted entry {number}: its end is cut off"
        checked.add(Finding(code="expected_head_differs", number=number, message=message))
    return checked


def _rows(engine: Engine, entries: Any, end: int) -> Iterator[Any]:
    after = None
    while True:
        query = select(entries).where(entries.c.number <= end).order_by(entries.c.number).limit(AT_ONCE)
        if after is not None:
            query = query.where(entries.c.number > after)
        with engine.connect() as connection:
            rows = connection.execute(query).all()
        yield from rows
        if len(rows) < AT_ONCE:
            return
        after = rows[-1].number
