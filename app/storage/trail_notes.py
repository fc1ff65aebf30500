"""Entries put into the trail, in the transaction that they tell of.

A writing session seals itself: before it commits, what it wrote and what was said about it becomes one entry or
more, each continuing the head. No entry, no commit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, event, insert, select
from sqlmodel import Session, SQLModel

from app.core.errors import FullcountError
from app.core.trail import KINDS, Entry, compact_json, hash_of
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.storage.trail import TrailEntry, TrailHead
from app.storage.trail_changes import ChangeLog, watch
from app.storage.trail_doing import Doing, present
from app.storage.trail_subjects import only, subject_of_changes

SLOT = "trail"
LONGEST = 200
_NOT_SHOWN = re.compile(r"[^\x20-\x7e]")


class TrailNotWritten(FullcountError):
    """What was to be done could not be put into the trail, so it was not done."""


@dataclass(frozen=True, kw_only=True)
class Note:
    """Something for the trail.

    Parameters
    ----------
    kind : one of `app.core.trail.KINDS`
    what : plain words; never a patient's name, a value of a field, a file name, or anything typed
    who, practice_id : from the present `Doing` where empty
    details : ids, codes and numbers
    """

    kind: str
    what: str
    who: str = ""
    practice_id: str = ""
    patient_id: str = ""
    series_id: str = ""
    details: dict[str, Any] = field(default_factory=dict)
    doing: Doing | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f'no kind "{self.kind}" of entry. Use one of {", ".join(KINDS)}')

    def here(self) -> Note:
        """The same with who is at work now, so that another thread can write it."""
        return self if self.doing is not None else replace(self, doing=present())


@dataclass
class Ledger:
    """What one transaction will put into the trail."""

    log: ChangeLog
    notes: list[Note] = field(default_factory=list)


class WritingSession(Session):
    """A session whose transactions leave their entry, or do not come about."""

    def __init__(self, bind: Any, practice_id: str) -> None:
        super().__init__(bind, expire_on_commit=False)
        self.info[SLOT] = Ledger(ChangeLog(practice_id))


class ReadingSession(Session):
    """A session that only reads: what it wrote would stand in no trail."""


def note(scope: PracticeScope, said: Note) -> None:
    """Say something about the transaction of this scope; what it writes rides with the first thing said.

    Raises
    ------
    TypeError
        In a reading scope: use ``store.trail.note``, which waits until it is written.
    """
    ledger = scope.session.info.get(SLOT)
    if ledger is None:
        raise TypeError("a reading scope keeps no notes; call store.trail.note")
    ledger.notes.append(said.here())


@event.listens_for(WritingSession, "after_begin")
def _begun(session: Session, _transaction: Any, connection: Connection) -> None:
    watch(connection, session.info[SLOT].log)


@event.listens_for(WritingSession, "before_commit")
def _seal(session: Session) -> None:
    if session.in_nested_transaction():
        return
    session.flush()
    ledger: Ledger = session.info[SLOT]
    notes = _notes_of(session, ledger)
    if notes:
        append(session.connection(), notes)
    # What the same session writes after this belongs to its next transaction.
    session.info[SLOT] = Ledger(ChangeLog(ledger.log.practice_id))


@event.listens_for(ReadingSession, "before_commit")
def _refuse(_session: Session) -> None:
    raise TypeError(
        "a reading scope does not commit: write through Store.writing, which leaves an entry in the trail"
    )


def _notes_of(session: Session, ledger: Ledger) -> list[Note]:
    """What was said, and what was written with the first of it."""
    log = ledger.log
    if not log.rows:
        return [_in_practice(each, log) for each in ledger.notes]
    first, *others = ledger.notes or [_note_of_changes(session, log)]
    subject = subject_of_changes(session, log)
    first = replace(
        first,
        patient_id=first.patient_id or subject.patient_id,
        series_id=first.series_id or subject.series_id,
        details={**first.details, "changes": log.as_details()},
    )
    return [_in_practice(each, log) for each in (first, *others)]


def _note_of_changes(session: Session, log: ChangeLog) -> Note:
    """What a transaction did about which nobody said anything."""
    new, touched = log.touched("insert"), log.touched()
    said = Note(kind="change", what=log.in_words(), doing=present())
    if "login_session" in new:
        return replace(said, kind="log_in", what="logged in", who=only(log.named.get("staff_id", set())))
    if "login_session" in touched and set(touched) <= {"login_session", "machine_person"}:
        people = _people_of_sessions(session, touched["login_session"])
        return replace(said, kind="log_out", what="log-in ended", who=only(people))
    return said


def _people_of_sessions(session: Session, ids: list[str]) -> set[str]:
    table = SQLModel.metadata.tables["login_session"]
    return set(session.connection().execute(select(table.c.staff_id).where(table.c.id.in_(ids))).scalars())


def _in_practice(said: Note, log: ChangeLog) -> Note:
    if said.practice_id:
        return said
    own = said.doing.practice_id if said.doing is not None else ""
    named = log.named.get("practice_id", set()) | set(log.touched("insert").get("practice", []))
    return replace(said, practice_id=own or log.practice_id or only(named))


def append(connection: Connection, notes: list[Note]) -> None:
    """Put entries behind the head; the database moves the head along.

    The head's row stays locked until the transaction ends, so that the chain has no branches (on SQLite there is
    one writer anyway).

    Raises
    ------
    TrailNotWritten
        The trail has no head.
    """
    head: Any = SQLModel.metadata.tables[TrailHead.__tablename__]
    last = connection.execute(select(head.c.number, head.c.hash, head.c.at).with_for_update()).first()
    if last is None:
        raise TrailNotWritten("the head of the trail is gone, so nothing was done. Run: python -m app verify")
    number, previous, before = last
    rows = []
    for each in notes:
        moment = now()
        entry = _entry(each, number + 1, previous, moment, before)
        previous, number, before = hash_of(entry), entry.number, moment
        rows.append({**vars(entry), "hash": previous})
    connection.execute(insert(SQLModel.metadata.tables[TrailEntry.__tablename__]), rows)


def _entry(said: Note, number: int, previous: str, moment: datetime, before: datetime | None) -> Entry:
    doing = said.doing or present()
    details = dict(said.details)
    if doing.through:
        details["through"] = doing.through
    if before is not None and moment < before:
        details["clock_went_back_s"] = max(1, round((before - moment).total_seconds()))
    return Entry(
        number=number,
        practice_id=said.practice_id or doing.practice_id,
        at=moment,
        who=said.who or doing.who,
        acting_as=doing.acting_as,
        from_where=_plain(doing.from_where),
        request_id=_plain(doing.request_id),
        kind=said.kind,
        what=said.what,
        patient_id=said.patient_id,
        series_id=said.series_id,
        details=compact_json(details),
        previous=previous,
    )


def _plain(text: str) -> str:
    """What came from outside, on one line and of bounded length."""
    return _NOT_SHOWN.sub("?", text)[:LONGEST]
