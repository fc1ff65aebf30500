"""Lists for the home pages: series open or closed with gaps, what one patient has had, who is new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import col, select

from app.core.coverage import audit
from app.storage.people import Patient, Staff
from app.storage.people_on_record import on_record
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, RetakeOrder, SeriesRow, SignOff
from app.work.audit_series import core_series


@dataclass(frozen=True, kw_only=True)
class ListedSeries:
    """A series as a line of a list.

    Parameters
    ----------
    exposures : how many count (set aside ones do not)
    verdict : complete, incomplete or unreviewed: computed now for an open series, as it was for a closed one
    gaps : how many targets are asked for and not covered
    waiting : images without a slot or without a review
    retakes_ordered : retakes that wait for their image
    """

    id: str
    patient_id: str
    patient_name: str
    chart_number: str
    title: str
    started_on: date
    prescribed_by: str
    is_open: bool
    exposures: int
    verdict: str
    gaps: int
    waiting: int
    retakes_ordered: int
    closing_reason: str = ""


def newest_patients(scope: PracticeScope, *, limit: int) -> Sequence[Patient]:
    """The patients registered last, the newest first."""
    return scope.all(on_record(scope).order_by(col(Patient.created_at).desc(), col(Patient.id)).limit(limit))


def series_of_patient(scope: PracticeScope, patient_id: str) -> list[ListedSeries]:
    """Every series of a patient, the newest first."""
    return _listed(scope, _rows(scope, SeriesRow.patient_id == patient_id))


def open_series_list(scope: PracticeScope) -> list[ListedSeries]:
    """Every open series of the practice, the newest first."""
    return _listed(scope, _rows(scope, SeriesRow.status == "open"))


def closed_with_gaps(scope: PracticeScope, *, limit: int = 20) -> list[ListedSeries]:
    """The series last closed although something was missing."""
    query = (
        select(SeriesRow)
        .join(SignOff, col(SignOff.series_id) == SeriesRow.id)
        .where(SeriesRow.practice_id == scope.practice_id, SignOff.verdict != "complete")
        .order_by(col(SignOff.closed_at).desc())
        .limit(limit)
    )
    return _listed(scope, scope.session.exec(query).all())


def _rows(scope: PracticeScope, condition: bool) -> Sequence[SeriesRow]:
    query = scope.select(SeriesRow).where(condition)
    return scope.all(query.order_by(col(SeriesRow.started_on).desc(), col(SeriesRow.id)))


def _listed(scope: PracticeScope, rows: Sequence[SeriesRow]) -> list[ListedSeries]:
    """The lines, with one query for each kind of row whatever the number of series."""
    if not rows:
        return []
    ids = [row.id for row in rows]
    exposures: dict[str, list[ExposureRow]] = {}
    made = scope.select(ExposureRow).where(col(ExposureRow.series_id).in_(ids))
    for each in scope.all(made.order_by(col(ExposureRow.position))):
        exposures.setdefault(each.series_id, []).append(each)
    orders: dict[str, int] = {}
    for order in scope.all(scope.select(RetakeOrder).where(col(RetakeOrder.series_id).in_(ids))):
        if order.fulfilled_by is None and order.withdrawn_at is None:
            orders[order.series_id] = orders.get(order.series_id, 0) + 1
    signed = {
        each.series_id: each for each in scope.all(scope.select(SignOff).where(col(SignOff.series_id).in_(ids)))
    }
    patients = {
        each.id: each
        for each in scope.all(scope.select(Patient).where(col(Patient.id).in_({row.patient_id for row in rows})))
    }
    names = {
        each.id: each.name
        for each in scope.all(scope.select(Staff).where(col(Staff.id).in_({row.prescribed_by for row in rows})))
    }
    return [
        _line(row, exposures.get(row.id, []), orders.get(row.id, 0), signed.get(row.id), patients, names)
        for row in rows
    ]


def _line(
    row: SeriesRow,
    exposures: list[ExposureRow],
    ordered: int,
    signed: SignOff | None,
    patients: dict[str, Patient],
    names: dict[str, str],
) -> ListedSeries:
    counted = [each for each in exposures if each.set_aside_reason is None]
    if signed is not None:
        verdict, gaps = signed.verdict, int(signed.audit.get("counts", {}).get("gaps", 0))
    else:
        now = audit(core_series(row, exposures))
        verdict, gaps = now.verdict, len(now.gaps)
    patient = patients[row.patient_id]
    return ListedSeries(
        id=row.id,
        patient_id=patient.id,
        patient_name=patient.name,
        chart_number=patient.chart_number,
        title=str(row.template.get("title", row.template_key)),
        started_on=row.started_on,
        prescribed_by=names.get(row.prescribed_by, ""),
        is_open=row.status == "open",
        exposures=len(counted),
        verdict=verdict,
        gaps=gaps,
        waiting=sum(each.slot is None or not each.reviewed for each in counted),
        retakes_ordered=ordered,
        closing_reason=signed.reason if signed is not None else "",
    )
