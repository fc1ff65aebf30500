"""A patient's whole recall: images, risks, prescriptions, holds, appointments and contacts, the newest first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import col, select

from app.exchange.recall_guidance import risk_reasons
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
from app.storage.series import SeriesRow, SignOff
from app.work.recall_contacts import OUTCOMES
from app.work.recall_holds import HOLD_KINDS
from app.work.recall_outside import OUTSIDE_KINDS, SIDES
from app.work.recall_prescriptions import PRESCRIBED_KINDS
from app.work.staff_names import staff_names


@dataclass(frozen=True, kw_only=True)
class Happened:
    """One thing of a patient's recall.

    Parameters
    ----------
    what, detail : in words
    by : who did it; empty where nobody is named
    undo : ``withdraw prescription``, ``lift hold`` or ``withdraw outside`` where it can still be taken back
    """

    on: date
    what: str
    detail: str
    by: str
    id: str
    undo: str = ""


def history_of(scope: PracticeScope, patient_id: str) -> list[Happened]:
    """Everything that happened, the newest first.

    Raises
    ------
    NotFound
        No such patient in this practice.
    """
    patient = scope.get(Patient, patient_id, "patient")
    names = staff_names(scope)
    titles = {each.code: each.title for each in risk_reasons()}
    found: list[Happened] = []

    def put(on: date, what: str, detail: str, by: str | None, key: str, undo: str = "") -> None:
        found.append(Happened(on=on, what=what, detail=detail, by=names.get(by or "", ""), id=key, undo=undo))

    for series, signed in scope.session.exec(
        select(SeriesRow, SignOff).where(
            col(SignOff.series_id) == col(SeriesRow.id), SeriesRow.patient_id == patient.id
        )
    ):
        counts = signed.audit["counts"]
        shown = f"{counts['covered']} of {counts['asked']} shown"
        put(
            series.started_on,
            str(series.template["title"]),
            f"{signed.verdict}: {shown}",
            signed.closed_by,
            series.id,
        )
    for images in _rows(scope, OutsideImages, patient.id):
        put(
            images.taken_on,
            f"{OUTSIDE_KINDS[images.kind].capitalize()} from elsewhere",
            _joined(
                images.origin,
                SIDES[images.sides] if images.sides != "both" else "",
                "" if images.diagnostic else "cannot be read: counts for nothing",
                "taken back: counts no more" if images.withdrawn_at is not None else "",
            ),
            images.recorded_by,
            images.id,
            "withdraw outside" if images.withdrawn_at is None else "",
        )
    for risk in _rows(scope, CariesRisk, patient.id):
        reasons = ", ".join(titles.get(each, each) for each in risk.reasons)
        put(risk.assessed_on, f"Caries risk {risk.level}", reasons, risk.assessed_by, risk.id)
    for written in _rows(scope, RecallPrescription, patient.id):
        when = f"every {written.interval_months} months" if written.interval_months else f"on {written.due_on}"
        put(
            written.prescribed_on,
            f"Prescribed: {PRESCRIBED_KINDS[written.kind]} {when}",
            _joined(
                written.reason,
                f"until {written.ends_on}",
                "withdrawn" if written.withdrawn_at is not None else "",
            ),
            written.prescribed_by,
            written.id,
            "withdraw prescription" if written.withdrawn_at is None else "",
        )
    for hold in _rows(scope, RecallHold, patient.id):
        put(
            hold.from_on,
            f"Held: {HOLD_KINDS[hold.kind]}",
            _joined(
                hold.note,
                f"until {hold.until_on}" if hold.until_on else "until lifted",
                f"lifted by {names.get(hold.lifted_by or '', '')}" if hold.lifted_at is not None else "",
            ),
            hold.placed_by,
            hold.id,
            "lift hold" if hold.lifted_at is None else "",
        )
    for booking in _rows(scope, RecallBooking, patient.id):
        ended = "moved or cancelled" if booking.ended_at is not None else ""
        put(booking.noted_at.date(), f"Appointment on {booking.day}", ended, booking.noted_by, booking.id)
    for contact in _rows(scope, ContactNote, patient.id):
        again = f"next try {contact.next_try_on}" if contact.next_try_on else ""
        put(
            contact.made_at.date(),
            f"Contact: {OUTCOMES[contact.outcome]}",
            _joined(contact.note, again),
            contact.made_by,
            contact.id,
        )
    return sorted(found, key=lambda each: (each.on, each.id), reverse=True)


def _rows(scope: PracticeScope, table: Any, patient_id: str) -> Any:
    return scope.all(scope.select(table).where(table.patient_id == patient_id))


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)
