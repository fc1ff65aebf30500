"""What speaks against an appointment on a day: it is too early, recent images serve, or somebody said wait."""

from __future__ import annotations

from datetime import date

from app.core.recall.due import proposals
from app.core.recall.intervals import months_after
from app.storage.bookings import Appointment
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.work.booking_hours import practice_zone
from app.work.recall_facts import gather
from app.work.recall_holds import HOLD_KINDS
from app.work.recall_tables import table_in_force

RECENT_MONTHS = 6
"""Images younger than the shortest interval of every table may still serve, months."""

KIND_WORDS = {"bitewings": "bitewings", "full_series": "a full-mouth series", "review": "a review"}


def booking_warnings(
    scope: PracticeScope,
    patient_id: str,
    day: date,
    today: date | None = None,
    *,
    but_appointment_id: str = "",
) -> list[str]:
    """Sentences to read before radiographs are booked on a day; empty where nothing speaks against it.

    They warn and forbid nothing: the dentist decides.

    Parameters
    ----------
    but_appointment_id : an appointment that does not count, because it is being moved

    Raises
    ------
    NotFound
        No such patient in this practice.
    """
    patient = scope.get(Patient, patient_id, "patient")
    now_on = today or date.today()
    (known,) = gather(scope, [patient.id], now_on)
    found: list[str] = []
    for line in proposals(known.facts, table_in_force(scope), now_on):
        if line.window is not None and day < line.window.earliest:
            found.append(
                f"{day.isoformat()} is before {line.window.earliest.isoformat()}, the earliest sensible day for "
                f"{KIND_WORDS[line.kind]}."
            )
        elif line.window is None:
            found.append("Nothing is proposed for this patient by the calendar: ask the dentist before booking.")
    newest = known.facts.counted.newest_on
    if newest is not None and newest <= day < months_after(newest, RECENT_MONTHS):
        found.append(f"Images of {newest.isoformat()} may still serve: look at them first.")
    for hold in known.facts.holds:
        if hold.holds_on(day):
            found.append(f"The recall is held on that day: {HOLD_KINDS[hold.kind]}.")
    others = [each for each in known.facts.booked if each[0] != but_appointment_id and each[1] >= now_on]
    found += [f"The patient is booked already, on {_when(scope, *each)}." for each in others]
    return found


def _when(scope: PracticeScope, appointment_id: str, day: date) -> str:
    """The day of an appointment, with the time where the calendar knows it."""
    row = scope.find(Appointment, appointment_id)
    if row is None:
        return day.isoformat()
    return f"{row.starts_at.astimezone(practice_zone(scope)):%Y-%m-%d at %H:%M}"
