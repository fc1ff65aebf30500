"""The recall list: who is overdue, due now and due soon, a page at a time, with all that a call needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, func
from sqlmodel import col, select

from app.core.recall.due import REASONS
from app.storage.columns import Row, now
from app.storage.people import Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem, RecallPrescription
from app.work.patients import find_patients
from app.work.recall_claims import holds_at
from app.work.recall_filter import WHENS, RecallFilter, narrowing, part_of_list, when_of
from app.work.recall_tables import policy_in_force, table_of

R = TypeVar("R", bound=Row)

PAGE_SIZE = 50
MOST_NAMED = 50
"""Patients looked at for words of a name."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """On what a date rests, to be read beside it; ``warns`` where a newer publication replaces it."""

    name: str
    status: str
    warns: bool


@dataclass(frozen=True, kw_only=True)
class RecallLine:
    """One line of the list, with its patient.

    Parameters
    ----------
    when : the part of the list in which it stands
    because : why, in words
    caller : who is calling this patient at the moment; empty for nobody
    mine : whether that is the person who looks
    outdated : whether it still waits to be worked out anew
    """

    item: RecallItem
    patient: Patient
    when: str
    source: Source
    because: str
    caller: str
    mine: bool
    outdated: bool


@dataclass(frozen=True, kw_only=True)
class RecallPage:
    """One page of the list.

    Parameters
    ----------
    counts : lines in each part of the list, with the other filters as asked
    total : lines of the part shown
    """

    rows: list[RecallLine]
    counts: dict[str, int]
    total: int
    page: int
    pages: int


def recall_page(
    scope: PracticeScope,
    asked: RecallFilter,
    today: date,
    page: int = 1,
    *,
    staff_id: str = "",
    at: datetime | None = None,
) -> RecallPage:
    """A page of the list.

    Parameters
    ----------
    page : from 1; beyond the last, the last is shown
    staff_id : who looks
    """
    named = _named(scope, asked)
    if named is not None:
        found = _lines_of_patients(scope, asked, named, today)
        counts = {when: sum(when_of(each, today) == when for each in found) for when in WHENS}
        rows = lines_of(scope, found[:PAGE_SIZE], today, staff_id=staff_id, at=at)
        return RecallPage(rows=rows, counts=counts, total=len(rows), page=1, pages=1)
    counts = part_counts(scope, asked, today)
    pages = max(1, -(-counts[asked.when] // PAGE_SIZE))
    shown = min(max(1, page), pages)
    # First the ids alone: skipping to a page far back then reads the index only.
    keys = scope.session.exec(
        select(RecallItem.id)
        .where(RecallItem.practice_id == scope.practice_id, *_conditions(asked, today))
        .order_by(*_order(asked.sort))
        .offset((shown - 1) * PAGE_SIZE)
        .limit(PAGE_SIZE)
    ).all()
    # One by one: for a list of ids SQLite would rather read every row of the practice.
    items = [scope.get(RecallItem, key, "line of the recall list") for key in keys]
    rows = lines_of(scope, items, today, staff_id=staff_id, at=at)
    return RecallPage(rows=rows, counts=counts, total=counts[asked.when], page=shown, pages=pages)


def _lines_of_patients(
    scope: PracticeScope, asked: RecallFilter, patient_ids: Sequence[str], today: date
) -> Sequence[RecallItem]:
    """Every line of a few patients, whatever its part of the list."""
    query = scope.select(RecallItem).where(col(RecallItem.patient_id).in_(patient_ids), *narrowing(asked, today))
    return scope.all(query.order_by(*_order(asked.sort)))


def recall_patient_ids(scope: PracticeScope, asked: RecallFilter, today: date, limit: int) -> list[str]:
    """The patients of a filter in its order, each once: for letters and lists to print."""
    named = _named(scope, asked)
    if named is not None:
        found = [each.patient_id for each in _lines_of_patients(scope, asked, named, today)]
        return list(dict.fromkeys(found))[:limit]
    query = (
        select(RecallItem.patient_id)
        .where(RecallItem.practice_id == scope.practice_id, *_conditions(asked, today))
        .order_by(*_order(asked.sort))
        .limit(limit * 2)  # a patient may have two lines
    )
    return list(dict.fromkeys(scope.session.exec(query)))[:limit]


def part_counts(scope: PracticeScope, asked: RecallFilter, today: date) -> dict[str, int]:
    """How many lines stand in each part of the list, with the other filters as asked."""
    conditions = narrowing(asked, today)
    # One count for each part: each is a stretch of one index.
    return {
        when: scope.session.exec(
            select(func.count()).where(
                RecallItem.practice_id == scope.practice_id, *conditions, part_of_list(when, today)
            )
        ).one()
        for when in WHENS
    }


def _named(scope: PracticeScope, asked: RecallFilter) -> list[str] | None:
    """The patients whom the words name; None where there are no words."""
    if not asked.words:
        return None
    return [each.id for each in find_patients(scope, asked.words, limit=MOST_NAMED)]


def _conditions(asked: RecallFilter, today: date) -> list[ColumnElement[bool]]:
    return [*narrowing(asked, today), part_of_list(asked.when, today, by_due=asked.sort == "due")]


def _order(sort: str) -> tuple[Any, ...]:
    by_due, key = col(RecallItem.due_on), col(RecallItem.id)
    if sort == "risk":
        return (col(RecallItem.risk_rank), by_due, key)
    if sort == "contact":
        return (col(RecallItem.last_contact_at).nulls_first(), by_due, key)
    return (by_due, key)


def lines_of(
    scope: PracticeScope,
    items: Sequence[RecallItem],
    today: date,
    *,
    staff_id: str = "",
    at: datetime | None = None,
) -> list[RecallLine]:
    """The lines with their patients, the sources of their dates, and who is calling."""
    patients = {each.patient_id: scope.get(Patient, each.patient_id, "patient") for each in items}
    prescriptions = _by_id(
        scope, RecallPrescription, [each.source for each in items if each.basis == "prescription"]
    )
    people = _by_id(
        scope,
        Staff,
        [each.prescribed_by for each in prescriptions.values()] + [each.claimed_by or "" for each in items],
    )
    table_source = source_of_table(scope)
    moment = at or now()
    found = []
    for item in items:
        claimed = item.claimed_by if holds_at(item, moment) else None
        source = Source(name="", status="", warns=False)
        if item.basis == "prescription":
            written = prescriptions[item.source]
            source = Source(
                name=f"prescribed by {people[written.prescribed_by].name}",
                status=f"until {written.ends_on.day} {written.ends_on:%b %Y}: {written.reason}",
                warns=False,
            )
        elif item.source:
            source = table_source
        found.append(
            RecallLine(
                item=item,
                patient=patients[item.patient_id],
                when=when_of(item, today),
                source=source,
                because=REASONS[item.because],
                caller=people[claimed].name if claimed else "",
                mine=claimed == staff_id and bool(claimed),
                outdated=item.valid_until < today,
            )
        )
    return found


def _by_id(scope: PracticeScope, table: type[R], keys: Sequence[str]) -> dict[str, R]:
    wanted = {key for key in keys if key}
    if not wanted:
        return {}
    return {row.id: row for row in scope.all(scope.select(table).where(col(table.id).in_(wanted)))}


def source_of_table(scope: PracticeScope) -> Source:
    """The table in force, as it is named beside each date."""
    table = table_of(policy_in_force(scope))
    if table is None:
        return Source(name="no table chosen", status="", warns=False)
    return Source(name=table.short, status=table.status_words(), warns=table.status == "superseded")
