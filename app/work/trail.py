"""The trail read: page by page and exported by the administrator, one patient's viewers by a dentist."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, time, timedelta
from urllib.parse import urlencode

from sqlmodel import col, select
from sqlmodel.sql.expression import SelectOfScalar

from app.core.errors import InputError
from app.core.trail import KINDS
from app.exchange.csv_writing import csv_bytes, csv_lines
from app.storage.database import Store
from app.storage.people import Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.trail import TrailEntry, TrailHead
from app.work.actor import ADMINISTRATORS, DENTISTS, Actor, require

ON_A_PAGE = 50
AT_ONCE = 1000
"""Entries of an export read in one query."""

NOBODY = "nobody"
"""Stands in the filter for entries of which no person is known."""

COLUMNS = tuple(TrailEntry.model_fields)


@dataclass(frozen=True, kw_only=True)
class TrailFilter:
    """Which entries are asked for.

    Parameters
    ----------
    who : id of a person, or "nobody"
    first, last : days on the clock of this machine, as typed; both counted in
    chart : chart number of a patient, as typed
    before : only entries with a smaller number; 0 for the newest
    """

    who: str = ""
    kind: str = ""
    first: str = ""
    last: str = ""
    chart: str = ""
    before: int = 0

    @classmethod
    def from_query(cls, query: Mapping[str, str]) -> TrailFilter:
        """The filter of an address."""
        before = query.get("before", "")
        number = int(before) if before.isascii() and before.isdigit() and len(before) < 18 else 0
        words = {name: query.get(name, "").strip()[:80] for name in ("who", "kind", "first", "last", "chart")}
        words["kind"] = words["kind"] if words["kind"] in KINDS else ""
        return cls(before=number, **words)

    def to_query(self, *, before: int = 0) -> str:
        """The filter as the query of an address."""
        asked = replace(self, before=before)
        return urlencode({each.name: value for each in fields(self) if (value := getattr(asked, each.name))})


@dataclass(frozen=True, kw_only=True)
class TrailPage:
    """Entries, newest first, with the names that their ids stand for.

    Parameters
    ----------
    people : id to name, also of those who left
    charts : id of a patient to chart number
    """

    entries: Sequence[TrailEntry]
    more: bool
    people: dict[str, str]
    charts: dict[str, str]


def day_of(text: str, path: str) -> date | None:
    """A day of the filter; None where none was typed.

    Raises
    ------
    InputError
        Says how a day is written.
    """
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(path, f'"{text}" is no day. Write it as year-month-day, like 2026-03-27') from None


def read_trail(scope: PracticeScope, actor: Actor, asked: TrailFilter) -> TrailPage:
    """The entries that were asked for, newest first.

    Raises
    ------
    InputError
        Names the field of the filter that is wrong.
    """
    require(actor, ADMINISTRATORS, "read the trail")
    return _page(scope, _asked(scope, asked))


def trail_csv(store: Store, actor: Actor, asked: TrailFilter) -> Iterator[bytes]:
    """The same as CSV, oldest first and in full, piece by piece however long it is.

    Holds no patient data: ids and names of columns only; with hashes, so that anybody can follow the chain.
    """
    require(actor, ADMINISTRATORS, "export the trail")
    with store.reading(actor.practice_id) as scope:
        people = _people(scope)
        _asked(scope, asked)
    return _pieces(store, actor.practice_id, replace(asked, before=0), people)


def _pieces(store: Store, practice_id: str, asked: TrailFilter, people: Mapping[str, str]) -> Iterator[bytes]:
    yield csv_bytes([*COLUMNS, "person"], [])
    after = 0
    while True:
        with store.reading(practice_id) as scope:
            query = _asked(scope, asked).where(col(TrailEntry.number) > after)
            rows = scope.session.exec(query.order_by(col(TrailEntry.number)).limit(AT_ONCE)).all()
        yield csv_lines(
            [*(_cell(getattr(each, name)) for name in COLUMNS), people.get(each.who, "")] for each in rows
        )
        if len(rows) < AT_ONCE:
            return
        after = rows[-1].number


def _cell(value: str | int | datetime) -> str | int:
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ") if isinstance(value, datetime) else value


def viewers_of(scope: PracticeScope, actor: Actor, patient_id: str, *, before: int = 0) -> TrailPage:
    """Who looked at this patient's images and records, newest first; nothing about anybody else."""
    require(actor, DENTISTS, "see who looked at a patient's images")
    patient = scope.get(Patient, patient_id, "patient")
    query = select(TrailEntry).where(
        TrailEntry.practice_id == scope.practice_id,
        TrailEntry.patient_id == patient.id,
        col(TrailEntry.kind).in_(("view", "export")),
    )
    return _page(scope, _before(query, before))


def trail_head(scope: PracticeScope, actor: Actor) -> tuple[int, str]:
    """Number and hash of the last entry, to be noted elsewhere."""
    require(actor, ADMINISTRATORS, "read the trail")
    head = scope.session.exec(select(TrailHead)).first()
    return (head.number, head.hash) if head is not None else (0, "")


def trail_people(scope: PracticeScope, actor: Actor) -> dict[str, str]:
    """Everybody who works or worked here: id to name, by name."""
    require(actor, ADMINISTRATORS, "read the trail")
    return _people(scope)


def _people(scope: PracticeScope) -> dict[str, str]:
    return {each.id: each.name for each in scope.all(scope.select(Staff).order_by(col(Staff.name)))}


def _before(query: SelectOfScalar[TrailEntry], before: int) -> SelectOfScalar[TrailEntry]:
    return query.where(col(TrailEntry.number) < before) if before else query


def _asked(scope: PracticeScope, asked: TrailFilter) -> SelectOfScalar[TrailEntry]:
    query: SelectOfScalar[TrailEntry] = _before(select(TrailEntry), asked.before)
    first, last = day_of(asked.first, "first"), day_of(asked.last, "last")
    if first and last and last < first:
        raise InputError("last", f'"{asked.last}" lies before the first day. Exchange the two')
    if asked.who:
        query = query.where(TrailEntry.who == ("" if asked.who == NOBODY else asked.who))
    if asked.kind:
        query = query.where(TrailEntry.kind == asked.kind)
    if first:
        query = query.where(TrailEntry.at >= _midnight(first))
    if last and last < date.max:
        query = query.where(TrailEntry.at < _midnight(last + timedelta(days=1)))
    if asked.chart:
        patient = scope.first(scope.select(Patient).where(Patient.chart_number == asked.chart))
        if patient is None:
            raise InputError(
                "chart", f'no patient has the chart number "{asked.chart}". Check it, or leave it empty'
            )
        query = query.where(TrailEntry.patient_id == patient.id)
    return query


def _midnight(day: date) -> datetime:
    moment = datetime.combine(day, time())
    # The first and last days there are have no place on some clocks.
    return moment.astimezone() if date(2, 1, 1) <= day <= date(9998, 12, 31) else moment.replace(tzinfo=UTC)


def _page(scope: PracticeScope, query: SelectOfScalar[TrailEntry]) -> TrailPage:
    newest = query.order_by(col(TrailEntry.number).desc()).limit(ON_A_PAGE + 1)
    found = scope.session.exec(newest).all()
    shown = found[:ON_A_PAGE]
    ids = {each.patient_id for each in shown if each.patient_id}
    patients = scope.all(scope.select(Patient).where(col(Patient.id).in_(ids))) if ids else ()
    return TrailPage(
        entries=shown,
        more=len(found) > ON_A_PAGE,
        people=_people(scope),
        charts={each.id: each.chart_number for each in patients},
    )
