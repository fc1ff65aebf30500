"""The calendar: a day by rooms, a week by days, a month by weeks; as a list to print, and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.exchange.csv_writing import csv_bytes
from app.storage.columns import now
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, ReadingDep
from app.web.files_out import attachment
from app.web.formatting import MONTHS
from app.web.pages.bookings_grid import Column, Grid, Lane, MonthDay, grid, month_weeks
from app.web.pages.bookings_words import (
    STATUS_LOOKS,
    address,
    day_asked,
    local_moment,
    long_day,
    places,
    short_day,
)
from app.web.rendering import View, render
from app.work.booking_hours import open_times, practice_zone, rooms_in_use
from app.work.booking_lists import ListedAppointment, appointments_between, unmarked_before

router = APIRouter(include_in_schema=False)

VIEWS = {"day": "Day", "week": "Week", "month": "Month"}
HEADER = ("Date", "Starts", "Ends", "Minutes", "Room", "Patient", "Chart number", "Phone", "For", "State")


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Which part of the calendar is asked for."""

    view: str
    day: date
    first: date
    last: date
    today: date
    room: str

    def at(self, day: date, view: str = "") -> str:
        """The address of the calendar elsewhere."""
        return address("/calendar", view=view or self.view, day=day.isoformat(), room=self.room)

    @property
    def title(self) -> str:
        """The days in words."""
        if self.view == "day":
            return long_day(self.day)
        if self.view == "month":
            return f"{MONTHS[self.first.month - 1]} {self.first.year}"
        return f"{short_day(self.first)} to {short_day(self.last)} {self.last.year}"

    @property
    def before(self) -> date:
        """A day of the part before."""
        return self.first - timedelta(days=1)

    @property
    def after(self) -> date:
        """A day of the part after."""
        return self.last + timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class CalendarView(View):
    """The calendar as one of its three tables."""

    places: list[tuple[str, str, bool]]
    frame: Frame
    views: list[tuple[str, str, bool]]
    rooms: list[tuple[str, str]]
    grid: Grid | None
    weeks: list[list[MonthDay]]
    list_address: str
    csv_address: str
    book_address: str
    unmarked: list[ListedAppointment]
    may_open: bool


@dataclass(frozen=True, kw_only=True)
class ListView(View):
    """The appointments of some days as a list to print."""

    frame: Frame
    days: list[tuple[str, list[ListedAppointment]]]
    looks: dict[str, str]
    made: str
    back: str


def frame_of(scope: PracticeScope, view: str, day: str, room: str, at: datetime) -> Frame:
    """The part of the calendar that an address asks for; what it does not say is this week, and every room."""
    today = at.astimezone(practice_zone(scope)).date()
    chosen, view = day_asked(day, today), view if view in VIEWS else "week"
    if view == "day":
        first = last = chosen
    elif view == "week":
        first = chosen - timedelta(days=chosen.weekday())
        last = first + timedelta(days=6)
    else:
        first = chosen.replace(day=1)
        last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
    known = {each.id for each in rooms_in_use(scope)}
    return Frame(view=view, day=chosen, first=first, last=last, today=today, room=room if room in known else "")


@router.get("/calendar")
def show_calendar(
    request: Request, scope: ReadingDep, actor: CurrentActor, view: str = "", day: str = "", room: str = ""
) -> Response:
    """A day, a week or a month of all rooms or one."""
    at = now()
    frame = frame_of(scope, view, day, room, at)
    rooms = rooms_in_use(scope)
    shown = [each for each in rooms if frame.room in ("", each.id)]
    query = {"view": frame.view, "day": frame.day.isoformat(), "room": frame.room}
    page = CalendarView(
        heading=f"Calendar, {frame.title}",
        places=places("/calendar", actor),
        frame=frame,
        views=[(title, frame.at(frame.day, name), name == frame.view) for name, title in VIEWS.items()],
        rooms=[("", "All rooms"), *((each.id, each.name) for each in rooms)],
        grid=_grid(scope, frame, shown) if frame.view != "month" else None,
        weeks=_weeks(scope, frame, shown) if frame.view == "month" else [],
        list_address=address("/calendar/print", **query),
        csv_address=address("/calendar/appointments.csv", **query),
        book_address=address("/bookings/new", day=max(frame.day, frame.today).isoformat(), room=frame.room),
        unmarked=unmarked_before(scope, at),
        may_open=not rooms,
    )
    return render(request, "pages/booking_calendar.html", page)


def _grid(scope: PracticeScope, frame: Frame, rooms: Sequence[Room]) -> Grid:
    times = open_times(scope, frame.first, frame.last)
    found = appointments_between(scope, frame.first, frame.last, room_id=frame.room)
    if frame.view == "day":
        lanes = [
            Lane(
                column=Column(
                    title=room.name,
                    note=times.why_closed(room.id, frame.day),
                    href="",
                    book=_book(frame, frame.day, room.id),
                    here=False,
                ),
                day=frame.day,
                spans=times.spans(room.id, frame.day),
                appointments=[each for each in found if each.room_id == room.id],
                more=lambda each: each.title,
            )
            for room in rooms
        ]
    else:
        lanes = [
            Lane(
                column=Column(
                    title=short_day(day),
                    note="today" if day == frame.today else "",
                    href=frame.at(day, "day"),
                    book=_book(frame, day, frame.room),
                    here=day == frame.today,
                ),
                day=day,
                spans=[span for room in rooms for span in times.spans(room.id, day)],
                appointments=[each for each in found if each.day == day],
                more=lambda each: each.room,
            )
            for day in (frame.first + timedelta(days=ahead) for ahead in range(7))
        ]
        # A weekend on which nothing is open or booked needs no columns.
        lanes = [lane for lane in lanes if lane.spans or lane.appointments or lane.day.weekday() < 5]
    empty = "No room is open and nothing is booked in these days."
    return grid(f"Appointments, {frame.title}", lanes, times, empty)


def _book(frame: Frame, day: date, room_id: str) -> str:
    return address("/bookings/new", day=day.isoformat(), room=room_id) if day >= frame.today else ""


def _weeks(scope: PracticeScope, frame: Frame, rooms: Sequence[Room]) -> list[list[MonthDay]]:
    first = frame.first - timedelta(days=7)
    last = frame.last + timedelta(days=7)
    found = appointments_between(scope, first, last, room_id=frame.room)
    times = open_times(scope, first, last)
    return month_weeks(frame.first, frame.today, times, [room.id for room in rooms], found, frame.room)


@router.get("/calendar/print")
def show_list(request: Request, scope: ReadingDep, view: str = "day", day: str = "", room: str = "") -> Response:
    """The appointments in order, to print."""
    frame = frame_of(scope, view, day, room, now())
    days: dict[date, list[ListedAppointment]] = {}
    for each in appointments_between(scope, frame.first, frame.last, room_id=frame.room):
        days.setdefault(each.day, []).append(each)
    page = ListView(
        heading=f"Appointments, {frame.title}",
        frame=frame,
        days=[(long_day(each), listed) for each, listed in days.items()],
        looks=STATUS_LOOKS,
        made=local_moment(now(), practice_zone(scope)),
        back=frame.at(frame.day),
    )
    return render(request, "pages/booking_list.html", page)


@router.get("/calendar/appointments.csv")
def send_csv(scope: ReadingDep, view: str = "month", day: str = "", room: str = "") -> Response:
    """The same appointments as CSV, cancelled ones too."""
    frame = frame_of(scope, view, day, room, now())
    found = appointments_between(scope, frame.first, frame.last, room_id=frame.room, with_cancelled=True)
    body = csv_bytes(
        HEADER,
        (
            (
                each.day,
                f"{each.starts:%H:%M}",
                f"{each.ends:%H:%M}",
                each.minutes,
                each.room,
                each.patient_name,
                each.chart_number,
                each.phone,
                each.title,
                each.status,
            )
            for each in found
        ),
    )
    name = f"appointments-{frame.first.isoformat()}-{frame.last.isoformat()}.csv"
    return attachment(name, body)
