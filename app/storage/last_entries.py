"""The day of the last entry of each record, in one look at each table."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from sqlalchemy import Executable, func, select
from sqlmodel import col

from app.storage.bookings import Appointment
from app.storage.people import Patient
from app.storage.people_on_record import on_record
from app.storage.practice_scope import PracticeScope
from app.storage.recall import CariesRisk, RecallPrescription
from app.storage.series import ExposureRow, SeriesRow, SignOff


def last_entries(scope: PracticeScope, patient_id: str = "") -> dict[str, tuple[Patient, date]]:
    """Each patient on record with the day of the last entry.

    Counts registration, series started and closed, exposures, appointments that were not cancelled, caries risks
    and prescriptions. Attempts to reach a patient do not count: they would keep a record for ever.

    Parameters
    ----------
    patient_id : only this patient's; every patient's where it is empty
    """
    query = on_record(scope)
    if patient_id:
        query = query.where(col(Patient.id) == patient_id)
    found = {each.id: (each, each.created_at.date()) for each in scope.all(query)}
    for owner, day in _days(scope):
        if owner in found and found[owner][1] < day:
            found[owner] = (found[owner][0], day)
    return found


def _days(scope: PracticeScope) -> Iterable[tuple[str, date]]:
    mine = scope.practice_id
    owner = col(SeriesRow.patient_id)
    in_series = (
        select(owner, func.max(col(ExposureRow.taken_at)))
        .join(ExposureRow, col(ExposureRow.series_id) == col(SeriesRow.id))
        .where(col(SeriesRow.practice_id) == mine)
        .group_by(owner),
        select(owner, func.max(col(SignOff.closed_at)))
        .join(SignOff, col(SignOff.series_id) == col(SeriesRow.id))
        .where(col(SeriesRow.practice_id) == mine)
        .group_by(owner),
    )
    direct = (
        (SeriesRow, SeriesRow.started_on, None),
        (Appointment, Appointment.starts_at, col(Appointment.status) != "cancelled"),
        (CariesRisk, CariesRisk.assessed_on, None),
        (RecallPrescription, RecallPrescription.prescribed_on, None),
    )
    for query in in_series:
        yield from _read(scope, query)
    for table, day, condition in direct:
        holder = col(table.patient_id)
        grouped = select(holder, func.max(col(day))).where(col(table.practice_id) == mine).group_by(holder)
        yield from _read(scope, grouped if condition is None else grouped.where(condition))


def _read(scope: PracticeScope, query: Executable) -> Iterable[tuple[str, date]]:
    for owner, day in scope.session.execute(query):
        yield owner, day.date() if isinstance(day, datetime) else day
