"""The exposures and series behind a figure: the same filter, row by row."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import func
from sqlmodel import col, select

from app.core.errors import InputError
from app.storage.people import Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.quality_figures import QualityCase, QualityFact
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import Actor
from app.work.quality_figures import titles, whose
from app.work.quality_period import DIMENSIONS, MEASURES, Period, checked_choice
from app.work.quality_sums import slot_value

LONGEST_LIST = 500
"""Lines of one page of a list."""


@dataclass(frozen=True, kw_only=True)
class ExposureLine:
    """One exposure behind a figure.

    Parameters
    ----------
    codes : faults that took something from it
    retake_reason : code for which it was retaken; empty where it was not
    repeats : it is itself a retake
    """

    exposure_id: str
    series_id: str
    position: int
    taken_at: datetime
    patient: str
    chart_number: str
    slot: str
    slot_title: str
    operator: str
    template: str
    codes: tuple[str, ...]
    retake_reason: str
    retaken: bool
    repeats: bool
    avoidable: bool
    non_diagnostic: bool


@dataclass(frozen=True, kw_only=True)
class SeriesLine:
    """One series closed incomplete, with the retakes that would have completed it."""

    series_id: str
    patient: str
    chart_number: str
    template: str
    closed_on: date
    retakes_missed: int


def exposures_behind(
    scope: PracticeScope,
    actor: Actor,
    period: Period,
    *,
    measure: str,
    by: str = "",
    value: str = "",
    operator_id: str = "",
    limit: int = 100,
    offset: int = 0,
) -> tuple[ExposureLine, ...]:
    """The exposures that a figure counts, the newest first.

    Parameters
    ----------
    measure : one of `quality_period.MEASURES`
    by, value : the line of the figures; both empty for the whole period
    operator_id : whose; empty for everybody (a dentist's choice only)

    Raises
    ------
    InputError
        Names what cannot be chosen.
    """
    conditions = _conditions(scope, actor, period, measure, by, value, operator_id)
    # The facts first, then what belongs to the few that are shown.
    chosen = (
        select(QualityFact)
        .where(*conditions)
        .order_by(col(QualityFact.day).desc(), col(QualityFact.id))
        .limit(min(limit, LONGEST_LIST))
        .offset(offset)
    )
    facts = scope.session.exec(chosen).all()
    ids = [fact.id for fact in facts]
    rows = {row.id: row for row in scope.all(scope.select(ExposureRow).where(col(ExposureRow.id).in_(ids)))}
    people = _patients_of(scope, {fact.series_id for fact in facts})
    staff = {row.id: row.name for row in scope.all(scope.select(Staff))}
    slots = titles(scope, "slot", {slot_value(fact.template_key, fact.slot) for fact in facts})
    names = titles(scope, "template", {fact.template_key for fact in facts})
    return tuple(
        ExposureLine(
            exposure_id=fact.id,
            series_id=fact.series_id,
            position=rows[fact.id].position,
            taken_at=rows[fact.id].taken_at,
            patient=people[fact.series_id].name,
            chart_number=people[fact.series_id].chart_number,
            slot=fact.slot,
            slot_title=slots[slot_value(fact.template_key, fact.slot)] if fact.slot else "no view yet",
            operator=staff.get(fact.operator_id, ""),
            template=names[fact.template_key],
            codes=tuple(code for code in fact.lost_codes.split(",") if code),
            retake_reason=fact.retake_reason,
            retaken=fact.retaken,
            repeats=fact.repeats,
            avoidable=fact.avoidable,
            non_diagnostic=fact.non_diagnostic,
        )
        for fact in facts
    )


def how_many_behind(
    scope: PracticeScope,
    actor: Actor,
    period: Period,
    *,
    measure: str,
    by: str = "",
    value: str = "",
    operator_id: str = "",
) -> int:
    """How many exposures a figure counts, from the exposures themselves."""
    conditions = _conditions(scope, actor, period, measure, by, value, operator_id)
    return scope.session.exec(select(func.count(col(QualityFact.id))).where(*conditions)).one()


def series_closed_incomplete(
    scope: PracticeScope, actor: Actor, period: Period, operator_id: str = "", limit: int = 100, offset: int = 0
) -> tuple[SeriesLine, ...]:
    """The series behind the missed retakes, the newest first."""
    operator_id = whose(actor, operator_id)
    query = scope.select(QualityCase).where(
        col(QualityCase.month).between(period.first, period.last), col(QualityCase.incomplete).is_(True)
    )
    if operator_id:
        query = query.where(QualityCase.operator_id == operator_id)
    query = query.order_by(col(QualityCase.day).desc(), col(QualityCase.id))
    cases = scope.all(query.limit(min(limit, LONGEST_LIST)).offset(offset))
    people = _patients_of(scope, {case.id for case in cases})
    names = titles(scope, "template", {case.template_key for case in cases})
    return tuple(
        SeriesLine(
            series_id=case.id,
            patient=people[case.id].name,
            chart_number=people[case.id].chart_number,
            template=names[case.template_key],
            closed_on=case.day,
            retakes_missed=case.retakes_missed,
        )
        for case in cases
    )


def _patients_of(scope: PracticeScope, series_ids: set[str]) -> dict[str, Patient]:
    query = (
        select(col(SeriesRow.id), Patient)
        .join(Patient, col(Patient.id) == SeriesRow.patient_id)
        .where(SeriesRow.practice_id == scope.practice_id, col(SeriesRow.id).in_(series_ids))
    )
    return dict(scope.session.exec(query).all())


def _conditions(
    scope: PracticeScope, actor: Actor, period: Period, measure: str, by: str, value: str, operator_id: str
) -> list[Any]:
    operator_id = whose(actor, operator_id)
    checked_choice(measure, MEASURES, "measure")
    found: list[Any] = [
        QualityFact.practice_id == scope.practice_id,
        col(QualityFact.month).between(period.first, period.last),
    ]
    if operator_id:
        found.append(QualityFact.operator_id == operator_id)
    if measure != "exposures":
        found.append(col(getattr(QualityFact, measure)).is_(True))
    if by:
        checked_choice(by, DIMENSIONS, "by")
        found += _of_value(by, value, measure)
    return found


def _of_value(by: str, value: str, measure: str) -> list[Any]:
    if by == "reason":
        if measure in ("retaken", "avoidable"):
            return [QualityFact.retake_reason == value]
        if measure == "non_diagnostic":
            return [col(QualityFact.lost_codes).contains(f",{value},", autoescape=True)]
        # The denominators by reason are those of the whole period.
        return []
    if by == "slot":
        template_key, _, slot = value.partition("|")
        return [QualityFact.template_key == template_key, QualityFact.slot == slot]
    if by == "month":
        try:
            return [QualityFact.month == date.fromisoformat(f"{value}-01")]
        except ValueError as error:
            raise InputError("value", f'"{value}" is not a month. Write year and month, like 2026-03') from error
    column = {"operator": "operator_id", "room": "room_id", "receptor": "receptor_id", "template": "template_key"}
    return [getattr(QualityFact, column.get(by, by)) == value]
