"""The dentist chooses the table of intervals from which dates are proposed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from app.core.errors import InputError, did_you_mean
from app.core.recall.guidance import Interval
from app.core.recall.intervals import Months
from app.exchange.recall_guidance import published_tables, write_table
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallPolicy
from app.work.actor import DENTISTS, Actor, require
from app.work.recall_recompute import outdate_all, recompute_stale
from app.work.recall_tables import NO_TABLE

FIRST_STEP = 200
"""Patients worked out at once when the table changes; the list does the others in steps."""


def choose_policy(
    scope: PracticeScope,
    actor: Actor,
    key: str,
    *,
    months: Mapping[int, tuple[str, str]] | None = None,
    today: date,
) -> RecallPolicy:
    """Choose a published table, as it is or with other months, or none; every date is then worked out anew.

    Parameters
    ----------
    key : id of a published table, or ``none``
    months : by the number of a row from 0, its first and last month as typed; rows left out stay as published

    Raises
    ------
    InputError
        No such table, or at ``rows[n]``: months that cannot be.
    """
    require(actor, DENTISTS, "choose the recall intervals")
    if key == NO_TABLE:
        return _keep(
            scope, actor, RecallPolicy(key=key, title="no table", chosen_on=today, kept_by=actor.staff_id), today
        )
    known = published_tables()
    if key not in known:
        raise InputError("key", f'no table "{key}". Choose one of {", ".join(known)}.' + did_you_mean(key, known))
    published = known[key]
    rows = tuple(_edited(row, f"rows[{n}]", (months or {}).get(n)) for n, row in enumerate(published.rows))
    table = replace(published, rows=rows, edited=rows != published.rows)
    policy = RecallPolicy(
        key=key,
        title=table.short,
        body=write_table(table),
        edited=table.edited,
        chosen_on=today,
        kept_by=actor.staff_id,
    )
    return _keep(scope, actor, policy, today)


def _keep(scope: PracticeScope, actor: Actor, policy: RecallPolicy, today: date) -> RecallPolicy:
    kept = scope.add(policy)
    outdate_all(scope, today)
    recompute_stale(scope, today, limit=FIRST_STEP)
    return kept


def _edited(row: Interval, path: str, typed: tuple[str, str] | None) -> Interval:
    if typed is None or row.months is None:
        return row
    low, high = (_number(text, path) for text in typed)
    try:
        months = Months(low, high)
    except InputError as error:
        raise InputError(path, error.message) from error
    if months == row.months:
        return row
    return replace(
        row, months=months, source=f"edited by the practice; published: {row.months.words()}, {row.source}"
    )


def _number(text: str, path: str) -> int:
    try:
        return int(text.strip())
    except ValueError as error:
        raise InputError(path, f'"{text}" is not a number of months. Enter a whole number, like 24') from error
