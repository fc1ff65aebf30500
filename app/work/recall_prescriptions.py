"""A dentist prescribes recall radiographs for one patient, assesses the risk, or takes a prescription back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from app.core.errors import InputError
from app.core.recall.guidance import RISKS
from app.core.recall.intervals import Months, months_after
from app.exchange.recall_guidance import risk_reasons
from app.storage.columns import now
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import CariesRisk, RecallPrescription
from app.work.actor import DENTISTS, Actor, require
from app.work.recall_days import coming_day, past_day
from app.work.recall_recompute import recompute_recall
from app.work.text import checked_line

PRESCRIBED_KINDS = {"bitewings": "bitewings", "full_series": "full-mouth series"}


def prescribe_recall(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    kind: str,
    interval_months: str = "",
    due_on: str = "",
    reason: str,
    ends_on: str,
    today: date,
) -> RecallPrescription:
    """Prescribe an interval in months, or one day; it wins over every table until its end.

    Raises
    ------
    InputError
        Names the field: both or neither of interval and day, no reason, no end, an end before the day.
    """
    require(actor, DENTISTS, "prescribe recall radiographs")
    patient = scope.get(Patient, patient_id, "patient")
    if kind not in PRESCRIBED_KINDS:
        raise InputError("kind", f'"{kind}" cannot be prescribed here. Choose bitewings or a full-mouth series')
    if bool(interval_months.strip()) == bool(due_on.strip()):
        raise InputError(
            "interval_months", "give either an interval in months or one day, not both and not neither"
        )
    months = _months(interval_months) if interval_months.strip() else None
    day = coming_day(due_on, "due_on", today=today) if due_on.strip() else None
    words = checked_line(reason, "reason", longest=300)
    end = coming_day(ends_on, "ends_on", today=today)
    if day is not None and end < day:
        raise InputError(
            "ends_on", f"it ends on {end.isoformat()}, before its day {day.isoformat()}. Set a later end"
        )
    if months is not None and end < months_after(today, 1):
        raise InputError("ends_on", "it ends within a month, before it could come due. Set a later end")
    row = scope.add(
        RecallPrescription(
            patient_id=patient.id,
            kind=kind,
            interval_months=months,
            due_on=day,
            reason=words,
            prescribed_by=actor.staff_id,
            prescribed_on=today,
            ends_on=end,
        )
    )
    recompute_recall(scope, patient.id, today)
    return row


def _months(text: str) -> int:
    try:
        number = int(text.strip())
    except ValueError as error:
        raise InputError(
            "interval_months", f'"{text}" is not a number of months. Enter a whole number, like 12'
        ) from error
    try:
        return Months(number, number).low
    except InputError as error:
        raise InputError("interval_months", error.message) from error


def withdraw_prescription(
    scope: PracticeScope, actor: Actor, prescription_id: str, today: date
) -> RecallPrescription:
    """Take a prescription back; it stays in the history."""
    require(actor, DENTISTS, "withdraw recall prescriptions")
    row = scope.get(RecallPrescription, prescription_id, "prescription")
    if row.withdrawn_at is None:
        row.withdrawn_at, row.withdrawn_by = now(), actor.staff_id
        scope.session.add(row)
        recompute_recall(scope, row.patient_id, today)
    return row


def assess_risk(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    level: str,
    reasons: Sequence[str] = (),
    assessed_on: str,
    today: date,
) -> CariesRisk:
    """Keep a patient's caries risk as assessed on a day; what was assessed before stays in the history.

    Raises
    ------
    InputError
        Names the field: no such level or reason, a day ahead or before the one assessed last.
    """
    require(actor, DENTISTS, "assess the caries risk")
    patient = scope.get(Patient, patient_id, "patient")
    if level not in RISKS:
        raise InputError("level", f'"{level}" is no level of risk. Choose low, moderate or high')
    known = {each.code for each in risk_reasons()}
    for each in reasons:
        if each not in known:
            raise InputError("reasons", f'no reason "{each}". Choose from {", ".join(sorted(known))}')
    day = past_day(assessed_on, "assessed_on", today=today, born=patient.birth_date)
    row = scope.add(
        CariesRisk(
            patient_id=patient.id,
            level=level,
            reasons=list(dict.fromkeys(reasons)),
            assessed_on=day,
            assessed_by=actor.staff_id,
        )
    )
    recompute_recall(scope, patient.id, today)
    return row
