"""Keeps the figures of the quality review up to date: series marked stale are counted anew.

The difference between what a series counted for and what it counts for now is added to the sums, in the one
transaction that takes its mark away. A page calls `bring_up_to_date` before it reads; with nothing stale that is
one query.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from functools import lru_cache
from json import loads
from typing import Any

from sqlalchemy import Text, cast, delete, insert
from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import col, select

from app.core.series import Series
from app.core.templates import Template
from app.exchange.template_file import read_template
from app.storage.columns import new_id
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.practice import Practice
from app.storage.practice_scope import PracticeScope
from app.storage.quality_figures import SUMS, QualityCase, QualityCell, QualityFact, QualityMark
from app.storage.series import ExposureRow, SeriesRow, SignOff
from app.work.audit_series import core_series
from app.work.quality_facts import Counted, counted_of
from app.work.quality_sums import Key, Sums, add_cases, add_facts

AT_ONCE = 400
"""Series counted in one transaction: a writer at the chair waits for no more than that."""
IN_ONE_STATEMENT = 2_000
"""Rows handed to the database in one statement."""


def bring_up_to_date(store: Store, practice_id: str) -> int:
    """Count every stale series anew; answers how many there were.

    Opens its own transactions, a few hundred series in each: call it before the transaction that reads.
    """
    done = 0
    while True:
        with store.reading(practice_id) as scope:
            if scope.first(scope.select(QualityMark).limit(1)) is None:
                return done
        with store.writing(practice_id) as scope:
            done += refresh(scope, limit=AT_ONCE)


def rebuild(store: Store, practice_id: str) -> int:
    """Throw the kept figures away and count every series; answers how many there are."""
    with store.writing(practice_id) as scope:
        _alone(scope)
        for table in (QualityFact, QualityCase, QualityCell, QualityMark):
            scope.session.execute(delete(table).where(col(table.practice_id) == practice_id))
        ids = scope.session.exec(select(SeriesRow.id).where(SeriesRow.practice_id == practice_id)).all()
        marks = [{"id": new_id(), "practice_id": practice_id, "series_id": each} for each in ids]
        _insert(scope, QualityMark, marks)
    return bring_up_to_date(store, practice_id)


def refresh(scope: PracticeScope, *, limit: int = AT_ONCE) -> int:
    """Count some stale series anew, within a transaction that writes; answers how many."""
    _alone(scope)
    marked = select(QualityMark.series_id).where(QualityMark.practice_id == scope.practice_id)
    ids = sorted(set(scope.session.exec(marked.limit(limit)).all()))
    if not ids:
        return 0
    # Marks first, rows after: whoever writes from here on leaves a new mark.
    seen = scope.session.exec(select(QualityMark.id).where(col(QualityMark.series_id).in_(ids))).all()
    sums: Sums = {}
    facts_before = scope.all(scope.select(QualityFact).where(col(QualityFact.series_id).in_(ids)))
    cases_before = scope.all(scope.select(QualityCase).where(col(QualityCase.id).in_(ids)))
    add_facts(sums, facts_before, -1)
    add_cases(sums, cases_before, -1)
    for each in (*facts_before, *cases_before):
        scope.session.expunge(each)
    scope.session.execute(delete(QualityFact).where(col(QualityFact.series_id).in_(ids)))
    scope.session.execute(delete(QualityCase).where(col(QualityCase.id).in_(ids)))
    counted = list(count_series(scope, ids))
    facts = [fact for each in counted for fact in each.facts]
    cases = [each.case for each in counted if each.case is not None]
    add_facts(sums, facts)
    add_cases(sums, cases)
    _insert(scope, QualityFact, [vars(fact) for fact in facts])
    _insert(scope, QualityCase, [vars(case) for case in cases])
    _add_to_cells(scope, sums)
    for start in range(0, len(seen), IN_ONE_STATEMENT):
        some = seen[start : start + IN_ONE_STATEMENT]
        scope.session.execute(delete(QualityMark).where(col(QualityMark.id).in_(some)))
    return len(ids)


def _alone(scope: PracticeScope) -> None:
    """Wait until nobody else counts for this practice (SQLite has one writer anyway)."""
    scope.session.exec(select(Practice.id).where(Practice.id == scope.practice_id).with_for_update()).all()


def count_series(scope: PracticeScope, ids: Sequence[str]) -> Iterator[Counted]:
    """What series count for, from their rows as they are now."""
    rows = {row.id: row for row in scope.all(scope.select(SeriesRow).where(col(SeriesRow.id).in_(ids)))}
    born = dict(
        scope.session.exec(
            select(col(Patient.id), col(Patient.birth_date)).where(
                col(Patient.id).in_({row.patient_id for row in rows.values()})
            )
        ).all()
    )
    # The template as text: most series share one, and reading it costs more than all the rest.
    texts = dict(
        scope.session.exec(
            select(col(SeriesRow.id), cast(col(SeriesRow.template), Text)).where(col(SeriesRow.id).in_(ids))
        ).all()
    )
    exposures: dict[str, list[ExposureRow]] = {}
    made = scope.select(ExposureRow).where(col(ExposureRow.series_id).in_(ids))
    for each in scope.all(made.order_by(col(ExposureRow.position))):
        exposures.setdefault(each.series_id, []).append(each)
    signed = {
        each.series_id: each for each in scope.all(scope.select(SignOff).where(col(SignOff.series_id).in_(ids)))
    }
    for series_id, row in rows.items():
        yield _count(
            row,
            _template_in(texts[series_id]),
            born[row.patient_id],
            exposures.get(series_id, []),
            signed.get(series_id),
        )


def _count(
    row: SeriesRow, template: Template, born: date, exposures: list[ExposureRow], signed: SignOff | None
) -> Counted:
    def core() -> Series:
        return core_series(row, exposures)

    return counted_of(row, template, born, exposures, signed, core)


@lru_cache(maxsize=64)
def _template_in(text: str) -> Template:
    return read_template(loads(text))


def _insert(scope: PracticeScope, table: type[Any], rows: list[dict[str, Any]]) -> None:
    for start in range(0, len(rows), IN_ONE_STATEMENT):
        scope.session.execute(insert(table.__table__), rows[start : start + IN_ONE_STATEMENT])


def _add_to_cells(scope: PracticeScope, sums: Sums) -> None:
    """Add the differences to the kept cells, and drop those in which nothing is left."""
    rows = [_cell(scope.practice_id, key, counts) for key, counts in sums.items() if any(counts)]
    if not rows:
        return
    table = QualityCell.__table__  # type: ignore[attr-defined]
    dialect = scope.session.get_bind().dialect.name
    adding: Any = (postgresql if dialect == "postgresql" else sqlite).insert(table)
    adding = adding.on_conflict_do_update(
        index_elements=["practice_id", "grain", "dimension", "start", "operator_id", "value"],
        set_={name: table.c[name] + adding.excluded[name] for name in SUMS},
    )
    for start in range(0, len(rows), IN_ONE_STATEMENT):
        scope.session.execute(adding, rows[start : start + IN_ONE_STATEMENT])
    if any(count < 0 for row in rows for name, count in row.items() if name in SUMS):
        empty = [table.c[name] == 0 for name in SUMS]
        scope.session.execute(delete(table).where(table.c.practice_id == scope.practice_id, *empty))


def _cell(practice_id: str, key: Key, counts: list[int]) -> dict[str, Any]:
    grain, dimension, start, operator_id, value = key
    return {
        "id": new_id(),
        "practice_id": practice_id,
        "grain": grain,
        "dimension": dimension,
        "start": start,
        "operator_id": operator_id,
        "value": value,
        **dict(zip(SUMS, counts, strict=True)),
    }


def disagreements(scope: PracticeScope) -> list[str]:
    """Where the kept sums differ from the rows counted now; empty where all agree.

    Counts every series of the practice: for checks, not for pages. Stale series count as disagreements too.
    """
    wanted: Sums = {}
    ids = scope.session.exec(select(SeriesRow.id).where(SeriesRow.practice_id == scope.practice_id)).all()
    for start in range(0, len(ids), AT_ONCE):
        for counted in count_series(scope, ids[start : start + AT_ONCE]):
            add_facts(wanted, counted.facts)
            add_cases(wanted, [counted.case] if counted.case is not None else [])
    kept: Sums = {
        (cell.grain, cell.dimension, cell.start, cell.operator_id, cell.value): [
            getattr(cell, name) for name in SUMS
        ]
        for cell in scope.all(scope.select(QualityCell))
    }
    return [
        f"{' '.join(str(part) for part in key)}: kept {kept.get(key)}, counted {wanted.get(key)}"
        for key in sorted({*kept, *wanted})
        if kept.get(key, [0] * len(SUMS)) != wanted.get(key, [0] * len(SUMS))
    ]
