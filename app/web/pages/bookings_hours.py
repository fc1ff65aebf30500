"""Opening hours, closed days, and the time zone of the practice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import available_timezones

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.booking.opening import WEEKDAYS, Hours
from app.core.errors import InputError
from app.storage.bookings import ClosedDay
from app.storage.columns import now
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.bookings_words import address, long_day, places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_settings, seen_week
from app.work.actor import Actor
from app.work.booking_hours import (
    booking_settings,
    close_day,
    closed_days,
    hours_of,
    practice_zone,
    reopen_day,
    rooms_in_use,
    save_booking_settings,
    save_hours,
    written_day,
)

router = APIRouter(include_in_schema=False)

SETTINGS = ("time_zone", "recall_share", "recall_minutes")
CLOSING = ("day", "closed_room", "closed_reason")


@dataclass(frozen=True, kw_only=True)
class HoursView(View):
    """The calendar's frame, with what was typed."""

    places: list[tuple[str, str, bool]]
    zones: list[tuple[str, str]]
    values: dict[str, str]
    rooms: list[tuple[str, str, bool]]
    room: Room | None
    week: list[tuple[str, str, str]]
    closed: list[tuple[str, str, str, str]]
    room_choice: list[tuple[str, str]]
    opened_settings: str


def _view(
    scope: PracticeScope,
    actor: Actor,
    room_id: str = "",
    typed: dict[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str | None = None,
) -> HoursView:
    settings = booking_settings(scope)
    rooms = rooms_in_use(scope)
    room = next((each for each in rooms if each.id == room_id), rooms[0] if rooms else None)
    hours = hours_of(scope, room.id) if room else ()
    values = {name: str(getattr(settings, name)) for name in SETTINGS} | dict.fromkeys(CLOSING, "") | (typed or {})
    names = {each.id: each.name for each in rooms}
    today = now().astimezone(practice_zone(scope)).date()
    return HoursView(
        heading="Opening hours",
        errors=errors,
        opened=opened_field(seen_week(_week(hours, {}))) if opened is None else opened,
        opened_settings=opened_field(seen_settings(settings, SETTINGS)) if opened is None else opened,
        places=places("/calendar/hours", actor),
        zones=[(name, name.replace("_", " ")) for name in sorted(available_timezones())],
        values=values,
        rooms=[
            (each.name, address("/calendar/hours", room=each.id), room is not None and each.id == room.id)
            for each in rooms
        ],
        room=room,
        week=_week(hours, values),
        closed=[_closed(each, names) for each in closed_days(scope, today)],
        room_choice=[("", "The whole practice"), *((each.id, each.name) for each in rooms)],
    )


def _week(hours: Sequence[Hours], typed: Mapping[str, str]) -> list[tuple[str, str, str]]:
    return [
        (f"hours-{number}", name, typed.get(f"hours-{number}", written_day(hours, number)))
        for number, name in enumerate(WEEKDAYS)
    ]


def _closed(row: ClosedDay, names: dict[str, str]) -> tuple[str, str, str, str]:
    where = "the whole practice" if row.room_id is None else names.get(row.room_id, "a retired room")
    return row.id, long_day(row.day), where, row.reason


@router.get("/calendar/hours")
def show_hours(request: Request, scope: ReadingDep, actor: CurrentActor, room: str = "") -> Response:
    """Hours of a room, closed days, and settings."""
    return render(request, "pages/booking_hours.html", _view(scope, actor, room))


def _again(
    request: Request,
    store: StoreDep,
    actor: CurrentActor,
    error: InputError,
    typed: dict[str, str],
    room: str = "",
    opened: str | None = None,
) -> Response:
    with store.reading(actor.practice_id) as scope:
        view = _view(scope, actor, room, typed, errors_of(error, *typed), opened)
    return render(request, "pages/booking_hours.html", view, status=422)


@router.post("/calendar/hours")
def keep_hours(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """The week of a room."""
    room = form.text("room")
    typed = {f"hours-{number}": form.text(f"hours-{number}") for number in range(7)}
    try:
        with store.writing(actor.practice_id) as scope:
            held = scope.held(Room, room, "room")
            seen = seen_week(_week(hours_of(scope, held.id), {}))
            check_overtaken(scope, form, seen, back=address("/calendar/hours", room=room))
            save_hours(scope, actor, room, list(typed.values()))
    except InputError as error:
        return _again(request, store, actor, error, typed, room, form.text(OPENED))
    return go_to(address("/calendar/hours", room=room), "hours-kept")


@router.post("/calendar/hours/settings")
def keep_settings(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Time zone, and what the forecast counts with."""
    typed = {name: form.text(name) for name in SETTINGS}
    try:
        with store.writing(actor.practice_id) as scope:
            seen = seen_settings(booking_settings(scope), SETTINGS)
            check_overtaken(scope, form, seen, back="/calendar/hours")
            save_booking_settings(scope, actor, **typed)
    except InputError as error:
        return _again(request, store, actor, error, typed, opened=form.text(OPENED))
    return go_to("/calendar/hours", "calendar-settings-kept")


@router.post("/calendar/hours/closed")
def keep_closed(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A day on which a room or the practice is closed."""
    typed = {name: form.text(name) for name in CLOSING}
    today: date
    try:
        with store.writing(actor.practice_id) as scope:
            today = now().astimezone(practice_zone(scope)).date()
            close_day(
                scope,
                actor,
                day=typed["day"],
                room_id=typed["closed_room"],
                reason=typed["closed_reason"],
                today=today,
            )
    except InputError as error:
        moved = InputError("closed_reason", error.message) if error.path == "reason" else error
        return _again(request, store, actor, moved, typed)
    return go_to("/calendar/hours", "day-closed")


@router.post("/calendar/hours/closed/{closed_id}/reopen")
def reopen(closed_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """The day is open again."""
    with store.writing(actor.practice_id) as scope:
        reopen_day(scope, actor, closed_id)
    return go_to("/calendar/hours", "day-open")
