"""What the forms of the front desk show: appointments, and what a patient's recall rests on."""

from __future__ import annotations

from typing import TypeVar

from sqlmodel import col

from app.core.overtaking import Values
from app.storage.bookings import Appointment
from app.storage.columns import Row
from app.storage.practice_scope import PracticeScope
from app.storage.recall import CariesRisk, OutsideImages, RecallHold, RecallPrescription
from app.storage.versions import Stamp, latest, stamp_of
from app.web.formatting import shown_date
from app.work.booking_lists import ListedAppointment
from app.work.overtaken import Seen
from app.work.recall_holds import HOLD_KINDS
from app.work.recall_outside import OUTSIDE_KINDS
from app.work.recall_prescriptions import PRESCRIBED_KINDS


def seen_appointment(row: Appointment, listed: ListedAppointment) -> Seen:
    """An appointment with what moving, cancelling and marking rest on."""
    labels = {"?when": "When", "?room": "Where", "?status": "State"}
    when = f"{shown_date(listed.day)}, {listed.starts:%H:%M} to {listed.ends:%H:%M}"
    state = f"{row.status}: {row.reason}" if row.reason else row.status
    return Seen(
        fields={"?when": (when,), "?room": (listed.room,), "?status": (state,)},
        rows=(row,),
        columns={"?when": ("starts_at", "ends_at"), "?room": ("room_id",), "?status": ("status", "reason")},
        label=lambda name: labels.get(name, name),
    )


def seen_recall(scope: PracticeScope, patient_id: str, form: str) -> Seen:
    """What was on record when a form about a patient's recall was opened: each adds to it.

    Parameters
    ----------
    form : prescribe, risk, hold or outside
    """
    name, words, stamp = {
        "prescribe": _prescriptions,
        "risk": _risks,
        "hold": _holds,
        "outside": _outside,
    }[form](scope, patient_id)
    values: Values = (words,)
    return Seen(
        fields={f"?{form}": values},
        stamps={f"?{form}": stamp},
        label=lambda _: name,
        words=lambda _, v: "; ".join(v),
    )


R = TypeVar("R", bound=Row)
Record = tuple[str, str, Stamp | None]


def _prescriptions(scope: PracticeScope, patient_id: str) -> Record:
    rows = _of(scope, RecallPrescription, patient_id)
    said = [
        f"{PRESCRIBED_KINDS[each.kind]} "
        + (f"every {each.interval_months} months" if each.interval_months else f"on {each.due_on}")
        + f" until {shown_date(each.ends_on)} ({each.reason})"
        for each in rows
        if each.withdrawn_at is None
    ]
    made = (Stamp(each.prescribed_by, each.recorded_at) for each in rows)
    return "Prescribed", "; ".join(said), latest((*made, *(stamp_of(each) for each in rows)))


def _risks(scope: PracticeScope, patient_id: str) -> Record:
    rows = _of(scope, CariesRisk, patient_id)
    newest = max(rows, key=lambda each: each.recorded_at, default=None)
    words = f"{newest.level}, assessed on {shown_date(newest.assessed_on)}" if newest is not None else ""
    return "Caries risk", words, latest(Stamp(each.assessed_by, each.recorded_at) for each in rows)


def _holds(scope: PracticeScope, patient_id: str) -> Record:
    rows = _of(scope, RecallHold, patient_id)
    said = [
        HOLD_KINDS[each.kind]
        + (f" until {shown_date(each.until_on)}" if each.until_on else "")
        + (f" ({each.note})" if each.note else "")
        for each in rows
        if each.lifted_at is None
    ]
    made = (Stamp(each.placed_by, each.placed_at) for each in rows)
    return "Held", "; ".join(said), latest((*made, *(stamp_of(each) for each in rows)))


def _outside(scope: PracticeScope, patient_id: str) -> Record:
    rows = _of(scope, OutsideImages, patient_id)
    said = [
        f"{OUTSIDE_KINDS[each.kind]} of {shown_date(each.taken_on)}" for each in rows if each.withdrawn_at is None
    ]
    made = (Stamp(each.recorded_by, each.recorded_at) for each in rows)
    return "Images from elsewhere", "; ".join(said), latest((*made, *(stamp_of(each) for each in rows)))


def _of(scope: PracticeScope, table: type[R], patient_id: str) -> list[R]:
    query = scope.select(table).where(col(table.patient_id) == patient_id)  # type: ignore[attr-defined]
    return list(scope.all(query.order_by(col(table.id))))
