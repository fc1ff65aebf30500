"""The calendar read: appointments of some days, of one patient, and counted by day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import col, select

from app.core.booking.clock import day_bounds
from app.storage.bookings import Appointment
from app.storage.people import Patient, Staff
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.work.booking_hours import practice_zone
from app.work.bookings import purposes


@dataclass(frozen=True, kw_only=True)
class ListedAppointment:
    """An appointment as a line: its times on the clock of the practice."""

    id: str
    patient_id: str
    patient_name: str
    chart_number: str
    phone: str
    room_id: str
    room: str
    starts: datetime
    ends: datetime
    minutes: int
    purpose: str
    title: str
    status: str
    reason: str
    booked_by: str
    version: int
    from_recall: bool

    @property
    def day(self) -> date:
        """Its day on the calendar of the practice."""
        return self.starts.date()


def appointments_between(
    scope: PracticeScope, first: date, last: date, *, room_id: str = "", with_cancelled: bool = False
) -> list[ListedAppointment]:
    """The appointments of the local days from ``first`` to ``last``, by time, then room."""
    zone = practice_zone(scope)
    start, end = day_bounds(first, zone)[0], day_bounds(last, zone)[1]
    statuses = ("booked", "kept", "missed", *(("cancelled",) if with_cancelled else ()))
    query = select(Appointment, Patient, Room, Staff).where(
        Appointment.practice_id == scope.practice_id,
        col(Appointment.status).in_(statuses),
        col(Appointment.starts_at) >= start,
        col(Appointment.starts_at) < end,
    )
    if room_id:
        query = query.where(Appointment.room_id == room_id)
    return _listed(scope, query.order_by(col(Appointment.starts_at), col(Room.name), col(Appointment.id)))


def appointments_of_patient(scope: PracticeScope, patient_id: str) -> list[ListedAppointment]:
    """Every appointment of a patient, the latest first, cancelled ones too."""
    query = select(Appointment, Patient, Room, Staff).where(
        Appointment.practice_id == scope.practice_id, Appointment.patient_id == patient_id
    )
    return _listed(scope, query.order_by(col(Appointment.starts_at).desc()))


def appointment_listed(scope: PracticeScope, appointment_id: str) -> ListedAppointment:
    """One appointment as a line.

    Raises
    ------
    NotFound
        Not in this practice.
    """
    row = scope.get(Appointment, appointment_id, "appointment")
    query = select(Appointment, Patient, Room, Staff).where(Appointment.id == row.id)
    return _listed(scope, query)[0]


def _listed(scope: PracticeScope, query: object) -> list[ListedAppointment]:
    joined = (
        query.join(Patient, col(Patient.id) == Appointment.patient_id)  # type: ignore[attr-defined]
        .join(Room, col(Room.id) == Appointment.room_id)
        .join(Staff, col(Staff.id) == Appointment.booked_by)
    )
    zone, titles = practice_zone(scope), purposes(scope)
    return [
        ListedAppointment(
            id=row.id,
            patient_id=patient.id,
            patient_name=patient.name,
            chart_number=patient.chart_number,
            phone=patient.phone,
            room_id=room.id,
            room=room.name,
            starts=row.starts_at.astimezone(zone),
            ends=row.ends_at.astimezone(zone),
            minutes=row.minutes,
            purpose=row.purpose,
            title=titles[row.purpose][0] if row.purpose in titles else row.purpose,
            status=row.status,
            reason=row.reason,
            booked_by=staff.name,
            version=row.version,
            from_recall=bool(row.recall_item_id),
        )
        for row, patient, room, staff in scope.session.exec(joined).all()
    ]


def unmarked_before(scope: PracticeScope, at: datetime, *, since_days: int = 60) -> list[ListedAppointment]:
    """Past appointments of which nobody has said whether they were kept, the oldest first."""
    query = select(Appointment, Patient, Room, Staff).where(
        Appointment.practice_id == scope.practice_id,
        Appointment.status == "booked",
        col(Appointment.ends_at) < at,
        col(Appointment.starts_at) > at - timedelta(days=since_days),
    )
    return _listed(scope, query.order_by(col(Appointment.starts_at)).limit(50))


def rooms_by_id(scope: PracticeScope) -> dict[str, Room]:
    """Every room, retired ones too."""
    rooms: Sequence[Room] = scope.all(scope.select(Room).order_by(Room.name))
    return {room.id: room for room in rooms}
