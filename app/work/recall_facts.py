"""All that is known of patients' recalls, gathered for many patients at once: one query for each table."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any, TypeVar, cast

from sqlmodel import col, select

from app.core.dentition import Dentition
from app.core.recall.counting import Shown, Side, count, shown_by_series, shown_elsewhere, sides_needed
from app.core.recall.due import Facts, Hold, Prescription
from app.core.recall.guidance import Risk, group_of
from app.core.targets import Target
from app.storage.columns import Row
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import (
    CariesRisk,
    ContactNote,
    OutsideImages,
    RecallBooking,
    RecallHold,
    RecallPrescription,
)
from app.storage.series import ExposureRow, SeriesRow, SignOff
from app.work.audit_series import frozen_template
from app.work.charts import CHART_KEYS, read_chart

T = TypeVar("T", bound=Row)


@dataclass(frozen=True, kw_only=True)
class Known:
    """A patient with the facts of the recall and the last contact."""

    patient: Patient
    facts: Facts
    shown: tuple[Shown, ...]
    last_contact: ContactNote | None


def gather(scope: PracticeScope, patient_ids: Sequence[str], today: date) -> list[Known]:
    """What is known of each of the patients on record; those not of this practice are passed over."""
    # A record that was merged into another, or erased, has no recall of its own.
    found_all = _of(scope, Patient, "id", patient_ids)
    patients = {
        key: rows for key, rows in found_all.items() if rows[0].merged_into is None and rows[0].erased_at is None
    }
    ids = list(patients)
    shown = _shown(scope, ids)
    for key, outside in _of(scope, OutsideImages, "patient_id", ids, "taken_on").items():
        shown[key].extend(
            shown_elsewhere(
                each.taken_on,
                full_mouth=each.kind == "full_series",
                sides=each.sides,
                diagnostic=each.diagnostic,
            )
            for each in outside
            if each.withdrawn_at is None
        )
    risks = _of(scope, CariesRisk, "patient_id", ids, "assessed_on", "recorded_at")
    prescriptions = _of(scope, RecallPrescription, "patient_id", ids, "prescribed_on", "recorded_at")
    holds = _of(scope, RecallHold, "patient_id", ids, "from_on", "placed_at")
    bookings = _of(scope, RecallBooking, "patient_id", ids, "day")
    contacts = _of(scope, ContactNote, "patient_id", ids, "made_at")
    found = []
    for key in ids:
        (patient,) = patients[key]
        chart, needed = _mouth(patient)
        risk = risks[key][-1].level if risks[key] else None
        facts = Facts(
            born=patient.birth_date,
            group=group_of(chart, patient.birth_date, today),
            has_contacts=bool(needed),
            registered_on=patient.created_at.date(),
            risk=cast("Risk | None", risk),
            counted=count(shown[key], needed),
            prescriptions=tuple(_prescription(each) for each in prescriptions[key] if each.withdrawn_at is None),
            holds=tuple(
                Hold(kind=each.kind, from_on=each.from_on, until_on=each.until_on)
                for each in holds[key]
                if each.lifted_at is None
            ),
            booked=tuple((each.appointment_id, each.day) for each in bookings[key] if each.ended_at is None),
        )
        last = contacts[key][-1] if contacts[key] else None
        found.append(Known(patient=patient, facts=facts, shown=tuple(shown[key]), last_contact=last))
    return found


def _mouth(patient: Patient) -> tuple[Dentition, frozenset[Side]]:
    """The chart, and the sides on which it has a back contact."""
    chart = (patient.dentition_kind, patient.states, patient.roots, patient.closed_spaces)
    return _read_once(json.dumps(chart))


@lru_cache(maxsize=512)
def _read_once(chart: str) -> tuple[Dentition, frozenset[Side]]:
    # Most patients have one of some twenty charts that are usual for an age; nobody changes a chart once read.
    read = read_chart(dict(zip(CHART_KEYS, json.loads(chart), strict=True)))
    return read, sides_needed(read)


def _of(
    scope: PracticeScope, table: type[T], column: str, keys: Sequence[str], *order: str
) -> Mapping[str, list[T]]:
    """The practice's rows of a table by one column, in order."""
    query = scope.select(table).where(col(getattr(table, column)).in_(keys))
    found: defaultdict[str, list[T]] = defaultdict(list)
    for row in scope.all(query.order_by(*(getattr(table, name) for name in (*order, "id")))):
        found[getattr(row, column)].append(row)
    return found


def _prescription(row: RecallPrescription) -> Prescription:
    return Prescription(
        id=row.id,
        kind="full_series" if row.kind == "full_series" else "bitewings",
        months=row.interval_months,
        day=row.due_on,
        on=row.prescribed_on,
        ends_on=row.ends_on,
    )


def _shown(scope: PracticeScope, patient_ids: Sequence[str]) -> defaultdict[str, list[Shown]]:
    """What the closed series of each patient showed, as the audit said when they were closed."""
    query = (
        select(SeriesRow, SignOff)
        .where(col(SignOff.series_id) == col(SeriesRow.id), col(SeriesRow.patient_id).in_(patient_ids))
        .order_by(col(SeriesRow.started_on), col(SeriesRow.id))
    )
    closed = scope.session.exec(query).all()
    found: defaultdict[str, list[Shown]] = defaultdict(list)
    if not closed:
        return found
    slots: defaultdict[str, dict[str, str]] = defaultdict(dict)
    exposures = select(ExposureRow.id, ExposureRow.series_id, ExposureRow.slot).where(
        col(ExposureRow.practice_id) == scope.practice_id,
        col(ExposureRow.series_id).in_([series.id for series, _ in closed]),
    )
    for exposure_id, series_id, slot in scope.session.exec(exposures):
        if slot is not None:
            slots[series_id][exposure_id] = slot
    for series, signed in closed:
        found[series.patient_id].append(_shown_by(series, signed.audit, slots[series.id]))
    return found


def _shown_by(series: SeriesRow, audit: Mapping[str, Any], slot_of: Mapping[str, str]) -> Shown:
    template = frozen_template(series)
    bitewing_slots = {slot.id for slot in template.slots if slot.kind == "bitewing"}
    covered: dict[Target, list[str]] = {Target(each): ids for each, ids in audit["coverage"].items()}
    gaps = [Target(each["target"]) for each in audit["gaps"]]
    return shown_by_series(
        series.started_on,
        asked=[*covered, *gaps],
        covered_by=covered,
        bitewings=frozenset(key for key, slot in slot_of.items() if slot in bitewing_slots),
        full_mouth=any(slot.kind != "bitewing" for slot in template.required_slots),
    )
