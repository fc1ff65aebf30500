"""The work list is worked out: when something changes for a patient, and when the calendar has gone on.

What is kept is only what could be worked out again at any time; claims alone stand in the rows themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from sqlalchemy import func, update
from sqlmodel import col, select

from app.core.recall.due import proposals, standing
from app.core.recall.guidance import RISKS, IntervalTable
from app.core.recall.intervals import day_before
from app.storage.imports import insert_many
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work.recall_facts import Known, gather
from app.work.recall_tables import table_in_force

BATCH = 1000
"""Patients worked out together."""

KEPT = ("id", "practice_id", "patient_id", "kind", "claimed_by", "claimed_at")
"""Columns of a line that are not worked out."""

WORKED_OUT = tuple(name for name in RecallItem.model_fields if name not in KEPT)


Line = dict[str, Any]
"""A line worked out, by the columns of `RecallItem`: rows of the database are made of new ones only, in bulk."""


def fresh_lines(scope: PracticeScope, patient_ids: Sequence[str], today: date) -> dict[str, list[Line]]:
    """The lines of each patient as they would be worked out now; nothing is kept."""
    table = table_in_force(scope)
    found: dict[str, list[Line]] = {}
    for known in gather(scope, patient_ids, today):
        found[known.patient.id] = list(_lines(known, table, today))
    return found


def _lines(known: Known, table: IntervalTable | None, today: date) -> Iterator[Line]:
    contact, patient, risk = known.last_contact, known.patient, known.facts.risk
    for line in proposals(known.facts, table, today):
        stands = standing(known.facts, line, today)
        window = line.window
        yield {
            "patient_id": patient.id,
            "kind": line.kind,
            "last_on": line.last_on,
            "earliest_on": window.earliest if window is not None else None,
            "due_on": window.due if window is not None else None,
            "overdue_on": window.overdue if window is not None else None,
            "basis": line.basis,
            "source": line.source,
            "because": line.because,
            "condition": line.condition,
            "risk": risk or "",
            "risk_rank": RISKS.index(risk) if risk is not None else len(RISKS),
            "state": stands.state,
            "held_for": stands.held_for,
            "booked_on": stands.booked_on,
            "appointment_id": stands.appointment_id,
            "preferred_contact": patient.preferred_contact,
            "last_outcome": contact.outcome if contact is not None else "",
            "last_contact_at": contact.made_at if contact is not None else None,
            "next_try_on": contact.next_try_on if contact is not None else None,
            "valid_until": stands.valid_until,
        }


def recompute_recall(scope: PracticeScope, patient_id: str, today: date) -> list[RecallItem]:
    """Work out one patient's lines anew and keep them."""
    recompute_many(scope, [patient_id], today)
    return list(scope.all(scope.select(RecallItem).where(RecallItem.patient_id == patient_id)))


def recompute_many(scope: PracticeScope, patient_ids: Sequence[str], today: date) -> None:
    """Work out the lines of many patients anew and keep them, in batches."""
    scope.session.flush()
    for start in range(0, len(patient_ids), BATCH):
        _keep(scope, patient_ids[start : start + BATCH], today)


def _keep(scope: PracticeScope, patient_ids: Sequence[str], today: date) -> None:
    kept: dict[tuple[str, str], RecallItem] = {}
    claims: dict[str, RecallItem] = {}
    seen: set[tuple[str, str]] = set()
    for row in scope.all(scope.select(RecallItem).where(col(RecallItem.patient_id).in_(patient_ids))):
        kept[row.patient_id, row.kind] = row
        if row.claimed_by is not None:
            claims[row.patient_id] = row
    new: list[Line] = []
    for patient_id, lines in fresh_lines(scope, patient_ids, today).items():
        for line in lines:
            key = patient_id, line["kind"]
            seen.add(key)
            known = kept.get(key)
            if known is None:
                claim = claims.get(patient_id)
                line["claimed_by"] = claim.claimed_by if claim is not None else None
                line["claimed_at"] = claim.claimed_at if claim is not None else None
                new.append(line)
                continue
            for name in WORKED_OUT:
                if getattr(known, name) != line[name]:
                    setattr(known, name, line[name])
            scope.session.add(known)
    for key, left in kept.items():
        if key not in seen:
            scope.session.delete(left)
    scope.session.flush()
    insert_many(scope, RecallItem, new)


def recompute_stale(scope: PracticeScope, today: date, *, limit: int = 500, newcomers: bool = True) -> int:
    """Work out anew what the calendar alone has changed since, and patients who have no line yet.

    Safe to repeat; run each hour, and by the list in steps (see `recall_upkeep`).

    Parameters
    ----------
    newcomers : whether patients are looked for who have no line yet; it takes a look at every patient

    Returns
    -------
    int
        Patients worked out; less than ``limit`` when nothing is left.
    """
    stale = (
        select(RecallItem.patient_id)
        .where(RecallItem.practice_id == scope.practice_id, RecallItem.valid_until < today)
        .distinct()
        .limit(limit)
    )
    ids = list(scope.session.exec(stale))
    if newcomers and len(ids) < limit:
        ids += _without_line(scope, limit - len(ids))
    recompute_many(scope, ids, today)
    return len(ids)


def _without_line(scope: PracticeScope, limit: int) -> list[str]:
    has_line = select(RecallItem.id).where(col(RecallItem.patient_id) == col(Patient.id)).exists()
    query = select(Patient.id).where(
        Patient.practice_id == scope.practice_id,
        col(Patient.merged_into).is_(None),
        col(Patient.erased_at).is_(None),
        ~has_line,
    )
    query = query.limit(limit)
    return list(scope.session.exec(query))


def stale_count(scope: PracticeScope, today: date) -> int:
    """How many lines wait to be worked out anew."""
    query = select(func.count()).where(
        RecallItem.practice_id == scope.practice_id, col(RecallItem.valid_until) < today
    )
    return scope.session.exec(query).one()


def outdate_all(scope: PracticeScope, today: date) -> None:
    """Say that every line waits to be worked out anew, because what all rest on has changed."""
    scope.session.execute(
        update(RecallItem)
        .where(col(RecallItem.practice_id) == scope.practice_id, col(RecallItem.valid_until) >= today)
        .values(valid_until=day_before(today))
    )
