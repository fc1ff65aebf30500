"""Appointments: booked, moved, cancelled, kept or missed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import col, select

from app.core.booking.clock import moment_at
from app.core.booking.opening import STEP_MINUTES, Span, checked_minutes, usual_minutes, why_not_open
from app.core.errors import FullcountError, InputError
from app.storage.bookings import Appointment
from app.storage.people import Patient
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.work.actor import TEAM, Actor, require
from app.work.booking_free import busy_spans, next_free
from app.work.booking_hours import open_times, practice_zone
from app.work.booking_recall import REVIEW, cautions, note_freed, note_taken
from app.work.templates import choosable_templates
from app.work.text import checked_line

REVIEW_TITLE = "Visit without images"
LATEST_DAYS = 3 * 366
"""Nobody books further ahead; a day beyond is a slip of the year. Common practice, no source."""


class SlotTaken(InputError):
    """Somebody else has that time already; ``free`` are the next that are free, in UTC."""

    def __init__(self, message: str, free: tuple[datetime, ...]) -> None:
        super().__init__("time", message)
        self.free = free


class NeedsConfirmation(FullcountError):
    """Nothing forbids the appointment, but the desk must have read why it may be wrong."""

    def __init__(self, cautions: list[str]) -> None:
        super().__init__("this needs a second look: " + "; ".join(cautions))
        self.cautions = cautions


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A time as a form gives it.

    Parameters
    ----------
    day, time : like 2026-03-27 and 14:05, on the clock of the practice
    which : first or second where the time comes twice that day, else empty
    """

    room_id: str
    day: str
    time: str
    minutes: str
    which: str = ""


def purposes(scope: PracticeScope) -> dict[str, tuple[str, int]]:
    """What can be booked: its title and the length proposed, minutes, by the id that an appointment keeps."""
    found = {
        key: (template.title, usual_minutes(len(template.required_slots)))
        for key, template in choosable_templates(scope).items()
    }
    return {**found, REVIEW: (REVIEW_TITLE, usual_minutes(0))}


def book(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    wanted: Wanted,
    purpose: str,
    recall_item_id: str | None = None,
    confirmed: bool = False,
    at: datetime,
) -> Appointment:
    """A new appointment.

    Parameters
    ----------
    confirmed : whether the cautions have been read
    at : this moment

    Raises
    ------
    InputError
        Names the field: past, closed, taken (`SlotTaken`), or not a time at all.
    NeedsConfirmation
        Where something speaks against the day and nobody has confirmed it.
    """
    require(actor, TEAM, "book appointments")
    patient = scope.get(Patient, patient_id, "patient")
    if purpose not in purposes(scope):
        raise InputError("purpose", "choose what the appointment is for from the list")
    room, span, minutes = _place(scope, wanted, at)
    zone = practice_zone(scope)
    day, today = span.start.astimezone(zone).date(), at.astimezone(zone).date()
    _refuse_taken(scope, room, patient, span, minutes, at)
    if not confirmed and (said := cautions(scope, patient.id, purpose, day, today=today)):
        raise NeedsConfirmation(said)
    made = scope.add(
        Appointment(
            patient_id=patient.id,
            room_id=room.id,
            starts_at=span.start,
            ends_at=span.end,
            minutes=minutes,
            purpose=purpose,
            booked_by=actor.staff_id,
            booked_at=at,
            changed_at=at,
            recall_item_id=recall_item_id or None,
        )
    )
    note_taken(scope, actor, made, day, at)
    return made


def move(
    scope: PracticeScope,
    actor: Actor,
    appointment_id: str,
    *,
    wanted: Wanted,
    version: int,
    confirmed: bool = False,
    at: datetime,
) -> Appointment:
    """Another time or room for a booked appointment; errors as with `book`."""
    require(actor, TEAM, "move appointments")
    row = _booked(scope, appointment_id, version, "moved")
    patient = scope.get(Patient, row.patient_id, "patient")
    room, span, minutes = _place(scope, wanted, at)
    zone = practice_zone(scope)
    day, today = span.start.astimezone(zone).date(), at.astimezone(zone).date()
    _refuse_taken(scope, room, patient, span, minutes, at, but=row.id)
    if not confirmed and (said := cautions(scope, patient.id, row.purpose, day, today=today, but=row.id)):
        raise NeedsConfirmation(said)
    row.room_id, row.starts_at, row.ends_at, row.minutes = room.id, span.start, span.end, minutes
    _touch(scope, row, at)
    note_taken(scope, actor, row, day, at)
    return row


def cancel(
    scope: PracticeScope, actor: Actor, appointment_id: str, *, reason: str, version: int, at: datetime
) -> Appointment:
    """Call an appointment off, with the reason; the patient waits again."""
    require(actor, TEAM, "cancel appointments")
    row = _booked(scope, appointment_id, version, "cancelled")
    row.reason = checked_line(reason, "reason", longest=200)
    row.status = "cancelled"
    _touch(scope, row, at)
    note_freed(scope, actor, row, at)
    return row


def mark(
    scope: PracticeScope, actor: Actor, appointment_id: str, *, status: str, version: int, at: datetime
) -> Appointment:
    """Whether the patient came: kept or missed; a slip can be corrected by marking it again."""
    require(actor, TEAM, "mark appointments")
    if status not in ("kept", "missed"):
        raise InputError("status", "choose kept or missed")
    row = _current(scope, appointment_id, version)
    if row.status == "cancelled":
        raise InputError("status", "this appointment was cancelled, so it is neither kept nor missed")
    if row.starts_at > at:
        raise InputError("status", "this appointment has not begun. Mark it once it has")
    row.status = status
    _touch(scope, row, at)
    note_freed(scope, actor, row, at)
    return row


def _touch(scope: PracticeScope, row: Appointment, at: datetime) -> None:
    row.version += 1
    row.changed_at = at
    scope.session.add(row)
    scope.session.flush()


def _current(scope: PracticeScope, appointment_id: str, version: int) -> Appointment:
    row = scope.get(Appointment, appointment_id, "appointment")
    if row.version != version:
        raise InputError(
            "version", "somebody has changed this appointment since you opened it. Look at it again, then decide"
        )
    return row


def _booked(scope: PracticeScope, appointment_id: str, version: int, deed: str) -> Appointment:
    row = _current(scope, appointment_id, version)
    if row.status != "booked":
        raise InputError("status", f"this appointment is {row.status} and cannot be {deed}. Book a new one")
    return row


def _place(scope: PracticeScope, wanted: Wanted, at: datetime) -> tuple[Room, Span, int]:
    room = scope.find(Room, wanted.room_id)
    if room is None or room.retired:
        raise InputError("room", "choose a room from the list")
    try:
        day = date.fromisoformat(wanted.day.strip())
    except ValueError as error:
        raise InputError(
            "day", f'"{wanted.day}" is not a date. Write year, month and day, like 2026-03-27'
        ) from error
    minutes = checked_minutes(wanted.minutes)
    if day > at.date() + timedelta(days=LATEST_DAYS):
        raise InputError("day", f"{day.isoformat()} is more than three years ahead. Check the year")
    frame = open_times(scope, day, day)
    if day < at.astimezone(frame.zone).date():
        raise InputError("day", f"{day.isoformat()} is past. Choose today or a day to come")
    start = _start(day, wanted, frame.zone)
    if start < at:
        raise InputError("time", f"{wanted.time.strip()} is past. Choose a time to come")
    span = Span(start, start + timedelta(minutes=minutes))
    shut = why_not_open(span, frame.spans(room.id, day), frame.zone)
    if shut:
        because = frame.why_closed(room.id, day)
        raise InputError("time", f"{shut}{f' ({because})' if because else ''}. Choose one of the free times")
    return room, span, minutes


def _start(day: date, wanted: Wanted, zone: ZoneInfo) -> datetime:
    try:
        at = time.fromisoformat(wanted.time.strip())
    except ValueError as error:
        raise InputError("time", f'"{wanted.time}" is not a time of day. Write it like 14:05') from error
    if at.second or at.microsecond or at.tzinfo or at.minute % STEP_MINUTES:
        raise InputError("time", f"{wanted.time.strip()} is not in steps of {STEP_MINUTES} minutes. Round it")
    second = {"first": False, "second": True}.get(wanted.which)
    return moment_at(day, at, zone, second=second)


def _refuse_taken(
    scope: PracticeScope, room: Room, patient: Patient, span: Span, minutes: int, at: datetime, but: str = ""
) -> None:
    """Look, with the room held against every other writer, whether the time is free."""
    # SQLite has one writer at a time already; other databases hold the room's row until this transaction ends.
    scope.session.execute(select(Room.id).where(Room.id == room.id).with_for_update())
    if any(each.overlaps(span) for each in busy_spans(scope, room.id, span.start, span.end, but=but)):
        free = next_free(scope, room.id, minutes, since=max(span.start, at), at=at, but=but)
        zone = practice_zone(scope)
        shown = [f"{each.astimezone(zone):%Y-%m-%d %H:%M}" for each in free]
        mend = (
            f"The next free times are {', '.join(shown)}" if shown else "There is no free time in the next weeks"
        )
        raise SlotTaken(f"{room.name} is taken then. {mend}", free)
    elsewhere = scope.select(Appointment).where(
        Appointment.patient_id == patient.id,
        Appointment.status == "booked",
        Appointment.id != but,
        col(Appointment.starts_at) < span.end,
        col(Appointment.ends_at) > span.start,
    )
    if scope.first(elsewhere) is not None:
        raise InputError("time", f"{patient.name} has another appointment at that time. Choose another time")
