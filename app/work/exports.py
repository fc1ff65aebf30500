"""Lists that leave the program as tables: patients, the recall list, letters to be merged elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from sqlmodel import col

from app.exchange.csv_writing import csv_bytes
from app.storage.people import Patient
from app.storage.people_on_record import on_record
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work.actor import DESK, TEAM, Actor, require
from app.work.letters import Prepared
from app.work.recall_filter import RecallFilter, narrowing, part_of_list
from app.work.recall_list import lines_of, recall_patient_ids

CHUNK = 500
MOST_LINES = 20_000
"""Patients of one exported work list."""

PATIENT_COLUMNS = ("chart number", "name", "birth date", "phone", "e-mail", "preferred contact")
RECALL_COLUMNS = (
    *("chart number", "name", "phone", "e-mail", "preferred contact", "what", "state", "last", "earliest", "due"),
    *("overdue after", "rests on", "caries risk", "last contact", "outcome", "next try", "booked for"),
)
MERGE_COLUMNS = ("chart number", "name", "phone", "e-mail", "preferred contact", "due", "subject", "text")

Cell = str | int | float | date | None


def patients_csv(scope: PracticeScope, actor: Actor) -> bytes:
    """Every patient, by chart number; the file can be imported again."""
    require(actor, DESK, "export patients")
    people = scope.all(on_record(scope).order_by(col(Patient.chart_number)))
    rows = (
        (each.chart_number, each.name, each.birth_date, each.phone, each.email, each.preferred_contact)
        for each in people
    )
    return csv_bytes(PATIENT_COLUMNS, rows)


def recall_csv(scope: PracticeScope, actor: Actor, asked: RecallFilter, today: date) -> bytes:
    """The lines of the recall list that a filter shows, in its order."""
    require(actor, DESK, "export the recall list")
    return csv_bytes(RECALL_COLUMNS, _recall_rows(scope, asked, today))


def _recall_rows(scope: PracticeScope, asked: RecallFilter, today: date) -> Iterator[Sequence[Cell]]:
    ids = recall_patient_ids(scope, asked, today, MOST_LINES)
    for start in range(0, len(ids), CHUNK):
        some = ids[start : start + CHUNK]
        place = {patient_id: at for at, patient_id in enumerate(some)}
        query = scope.select(RecallItem).where(col(RecallItem.patient_id).in_(some), *narrowing(asked, today))
        if not asked.words:
            query = query.where(part_of_list(asked.when, today))
        items = scope.all(query)
        for line in sorted(lines_of(scope, items, today), key=lambda line: place[line.patient.id]):
            item, patient, contact = line.item, line.patient, line.item.last_contact_at
            yield (
                *(patient.chart_number, patient.name, patient.phone, patient.email, patient.preferred_contact),
                *(item.kind.replace("_", " "), line.when, item.last_on, item.earliest_on, item.due_on),
                *(item.overdue_on, line.source.name, item.risk),
                contact.astimezone().date() if contact is not None else None,
                *(item.last_outcome.replace("_", " "), item.next_try_on, item.booked_on),
            )


def merge_csv(actor: Actor, letters: Sequence[Prepared]) -> bytes:
    """Letters or messages as a table, for a mail merge elsewhere."""
    require(actor, TEAM, "prepare letters")
    rows = (
        (
            *(each.to.patient.chart_number, each.to.patient.name, each.to.patient.phone, each.to.patient.email),
            *(each.to.patient.preferred_contact, each.to.due_on, each.subject, each.body),
        )
        for each in letters
    )
    return csv_bytes(MERGE_COLUMNS, rows)
