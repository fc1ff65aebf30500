"""The page on which a time is chosen, for a new appointment and for one that is moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from app.core.booking.clock import moments_at
from app.core.booking.opening import LONGEST_MINUTES, SHORTEST_MINUTES, STEP_MINUTES, free_starts
from app.storage.people import Patient
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.web.pages.bookings_words import address, clock, day_asked, long_day, short_day
from app.web.rendering import FieldError, View
from app.work.booking_free import busy_spans, free_on
from app.work.booking_hours import open_times, practice_zone, rooms_in_use
from app.work.booking_lists import ListedAppointment, appointments_of_patient
from app.work.bookings import Wanted, purposes
from app.work.patients import find_patients

DAYS_AHEAD = 14
"""How many days the finder looks through beside the one shown."""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What has been chosen so far, as typed; ``slot`` is room, time and which, parted by bars."""

    patient_id: str
    recall: str
    purpose: str
    room: str
    minutes: str
    day: str
    slot: str
    version: str
    own_time: str = ""


@dataclass(frozen=True, kw_only=True)
class FreeTime:
    """A time that can be chosen."""

    value: str
    text: str
    chosen: bool


@dataclass(frozen=True, kw_only=True)
class FreeDay:
    """A day with its number of free times, leading to it."""

    text: str
    count: int
    href: str


@dataclass(frozen=True, kw_only=True)
class ChoosingView(View):
    """The free times of a day, by room."""

    action: str
    search: str
    back: str
    deed: str
    patient: Patient
    others: list[ListedAppointment]
    choice: Choice
    purposes: list[tuple[str, str]]
    rooms: list[tuple[str, str]]
    lengths: list[tuple[str, str]]
    day_text: str
    free: list[tuple[str, list[FreeTime]]]
    days: list[FreeDay]
    cautions: list[str]
    moving: ListedAppointment | None


@dataclass(frozen=True, kw_only=True)
class WhoView(View):
    """The search for the patient to book."""

    words: str
    found: list[tuple[Patient, str]]
    choice: Choice


def who_view(scope: PracticeScope, words: str, choice: Choice) -> WhoView:
    """Patients found, each leading on with what was chosen."""
    found = find_patients(scope, words, limit=20) if words else []
    onward = {"day": choice.day, "room": choice.room, "purpose": choice.purpose}
    return WhoView(
        heading="Book an appointment: for whom?",
        words=words,
        found=[(each, address("/bookings/new", patient=each.id, **onward)) for each in found],
        choice=choice,
    )


def wanted_of(choice: Choice) -> Wanted:
    """The time chosen: one typed by hand goes before one from the list."""
    room, at, which = (*choice.slot.split("|"), "", "", "")[:3]
    if choice.own_time.strip():
        own, _, which = choice.own_time.strip().partition(" ")
        return Wanted(
            room_id=choice.room or room, day=choice.day, time=own, minutes=choice.minutes, which=which.strip()
        )
    return Wanted(room_id=room or choice.room, day=choice.day, time=at, minutes=choice.minutes, which=which)


def choosing(
    scope: PracticeScope,
    choice: Choice,
    *,
    at: datetime,
    errors: tuple[FieldError, ...] = (),
    cautions: Sequence[str] = (),
    moving: ListedAppointment | None = None,
) -> ChoosingView:
    """The page for a choice, with defaults where nothing was chosen.

    Raises
    ------
    NotFound
        No such patient in this practice.
    """
    patient = scope.get(Patient, choice.patient_id, "patient")
    known = purposes(scope)
    today = at.astimezone(practice_zone(scope)).date()
    purpose = choice.purpose if choice.purpose in known else "bitewings-4" if "bitewings-4" in known else "review"
    minutes = choice.minutes or str(known[purpose][1])
    day = max(day_asked(choice.day, today), today)
    choice = replace(choice, purpose=purpose, minutes=minutes, day=choice.day if errors else day.isoformat())
    rooms = rooms_in_use(scope)
    searched = [room for room in rooms if choice.room in ("", room.id)]
    but = moving.id if moving else ""
    length = int(minutes) if minutes.isascii() and minutes.isdigit() and len(minutes) < 4 else 0
    base = f"/bookings/{moving.id}/move" if moving else "/bookings/new"
    return ChoosingView(
        heading=f"Move the appointment of {patient.name}" if moving else f"Book {patient.name}",
        errors=errors,
        action=base,
        search=base,
        back=f"/bookings/{moving.id}" if moving else f"/patients/{patient.id}",
        deed="Move to this time" if moving else "Book this time",
        patient=patient,
        others=[
            each
            for each in appointments_of_patient(scope, patient.id)
            if each.status == "booked" and each.id != but
        ],
        choice=choice,
        purposes=[(key, title) for key, (title, _) in known.items()],
        rooms=[("", "Any room"), *((room.id, room.name) for room in rooms)],
        lengths=_lengths(minutes),
        day_text=long_day(day),
        free=_free(scope, searched, day, length, at, but, choice.slot),
        days=_days(scope, searched, day, length, at, but, base, choice),
        cautions=list(cautions),
        moving=moving,
    )


def _lengths(chosen: str) -> list[tuple[str, str]]:
    usual = [*range(SHORTEST_MINUTES, 61, STEP_MINUTES), *range(75, LONGEST_MINUTES + 1, 15)]
    values = [str(each) for each in usual]
    # A length that cannot be booked stays in the form beside its error.
    return [(each, f"{each} minutes") for each in ([] if chosen in values else [chosen]) + values]


def _free(
    scope: PracticeScope, rooms: Sequence[Room], day: date, minutes: int, at: datetime, but: str, slot: str
) -> list[tuple[str, list[FreeTime]]]:
    zone = practice_zone(scope)
    shown = []
    for room in rooms:
        times = []
        for moment in free_on(scope, room.id, day, minutes, at=at, but=but) if minutes else ():
            local = moment.astimezone(zone)
            twice = len(moments_at(day, local.time(), zone)) == 2
            which = ("second" if local.fold else "first") if twice else ""
            value = f"{room.id}|{local:%H:%M}|{which}"
            text = f"{clock(local, twice=twice)}{f' ({which})' if which else ''}"
            times.append(FreeTime(value=value, text=text, chosen=value == slot))
        shown.append((room.name, times))
    return shown


def _days(
    scope: PracticeScope,
    rooms: Sequence[Room],
    day: date,
    minutes: int,
    at: datetime,
    but: str,
    base: str,
    choice: Choice,
) -> list[FreeDay]:
    """The next days that have free times, at most six."""
    frame = open_times(scope, day, day + timedelta(days=DAYS_AHEAD))
    start = at - timedelta(days=1)
    end = datetime.combine(day + timedelta(days=DAYS_AHEAD + 2), at.timetz())
    busy = {room.id: busy_spans(scope, room.id, start, end, but=but) for room in rooms}
    found = []
    for ahead in range(1, DAYS_AHEAD + 1):
        other = day + timedelta(days=ahead)
        count = sum(
            len(free_starts(frame.spans(room.id, other), busy[room.id], minutes, not_before=at))
            for room in rooms
            if minutes
        )
        if count:
            query = {"purpose": choice.purpose, "room": choice.room, "minutes": choice.minutes}
            if base == "/bookings/new":
                query |= {"patient": choice.patient_id, "recall": choice.recall}
            found.append(
                FreeDay(text=short_day(other), count=count, href=address(base, day=other.isoformat(), **query))
            )
        if len(found) == 6:
            break
    return found
