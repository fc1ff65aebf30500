"""The forecast counts what is on record: recalls by the week, places by the clock."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work import booking_hours, bookings
from app.work.forecast import WEEKS, YearForecast, year_forecast
from tests.people import Practice, a_patient
from tests.work.calendar_people import NOW, a_calendar, booked

MONDAY = date(2026, 3, 23)


def due(scope: PracticeScope, practice: Practice, days: list[date], state: str = "open") -> None:
    """A patient whose recall falls due, for each of the days."""
    for number, day in enumerate(days):
        patient = a_patient_row(scope, practice, f"D{state}{number}")
        row = RecallItem(
            patient_id=patient, kind="full_series", due_on=day, basis="prescription", state=state, valid_until=day
        )
        scope.add(row)


def a_patient_row(scope: PracticeScope, practice: Practice, number: str) -> str:
    """A patient without any line of the work list."""
    from app.storage.people import Patient

    return scope.add(Patient(chart_number=number, name=number, birth_date=date(1980, 1, 1))).id


def forecast_of(practice: Practice) -> YearForecast:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return year_forecast(scope, NOW)


def test_recalls_fall_into_the_week_of_their_day_and_earlier_ones_wait_already(practice: Practice) -> None:
    """Friday 27 March is now: Monday's recall belongs to this week, Sunday's to the backlog."""
    a_calendar(practice)
    days = [MONDAY - timedelta(days=1), MONDAY, MONDAY + timedelta(days=6), MONDAY + timedelta(days=7)]
    with practice.store.writing(practice.dentist.practice_id) as scope:
        due(scope, practice, [*days, MONDAY + timedelta(weeks=WEEKS)])
        due(scope, practice, days, state="held")
    year = forecast_of(practice)

    assert year.backlog == 1
    assert [week.figures.due for week in year.weeks][:3] == [2, 1, 0]
    assert sum(week.figures.due for week in year.weeks) == 3


def test_the_week_has_the_places_that_its_open_hours_hold(practice: Practice) -> None:
    """Eight hours on five days are 2400 minutes: 120 places of 20; of this week the Friday alone is left."""
    a_calendar(practice)
    year = forecast_of(practice)

    assert [week.open_minutes for week in year.weeks][:2] == [480, 2400]
    assert [week.figures.places for week in year.weeks][:2] == [24, 120]


def test_what_is_booked_or_closed_leaves_fewer_places(practice: Practice) -> None:
    room = a_calendar(practice)
    booked(practice, room, minutes="60")
    cancelled = booked(practice, room, day="2026-03-31", minutes="60")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        bookings.cancel(scope, practice.front_desk, cancelled.id, reason="x", version=1, at=NOW)
        booking_hours.close_day(scope, practice.dentist, day="2026-04-03", room_id="", reason="", today=NOW.date())
    week = forecast_of(practice).weeks[1]

    assert (week.open_minutes, week.booked_minutes, week.figures.places) == (1920, 60, 93)


def test_only_the_share_open_to_recalls_makes_places(practice: Practice) -> None:
    a_calendar(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        booking_hours.save_booking_settings(
            scope, practice.dentist, time_zone="Europe/Berlin", recall_share="25", recall_minutes="30"
        )

    assert forecast_of(practice).weeks[1].figures.places == 20


def test_the_show_rate_is_of_what_was_marked(practice: Practice) -> None:
    room = a_calendar(practice)
    for number, status in enumerate(("kept", "kept", "missed")):
        row = booked(practice, room, a_patient(practice, f"M{number}").id, time=f"{13 + number}:00")
        with practice.store.writing(practice.dentist.practice_id) as scope:
            bookings.mark(scope, practice.dentist, row.id, status=status, version=1, at=NOW + timedelta(days=4))
    rate = forecast_of(practice).rate

    assert (rate.kept, rate.missed) == (2, 1)
    assert rate.estimate == pytest.approx(2 / 3)
