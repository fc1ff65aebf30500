"""Words and addresses that the calendar's pages share."""

from __future__ import annotations

from datetime import date, datetime
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from app.core.booking.opening import WEEKDAYS
from app.web.formatting import MONTHS, shown_date
from app.work.actor import DENTISTS, Actor

STATUS_WORDS = {"booked": "booked", "kept": "kept", "missed": "missed", "cancelled": "cancelled"}
STATUS_LOOKS = {"booked": "open", "kept": "covered", "missed": "gap", "cancelled": "exempt"}
"""The badge of each status; the word always stands beside it."""


def places(here: str, actor: Actor) -> list[tuple[str, str, bool]]:
    """The pages of the calendar, as the part `within` takes them."""
    pages = [
        ("Calendar", "/calendar"),
        ("Forecast", "/calendar/forecast"),
        ("Calendar feed", "/calendar/feed"),
    ]
    if actor.may(DENTISTS):
        pages.append(("Opening hours", "/calendar/hours"))
    return [(title, address, address == here) for title, address in pages]


def address(path: str, **query: str) -> str:
    """The path with what is not empty in its query."""
    kept = {name: value for name, value in query.items() if value}
    return f"{path}?{urlencode(kept)}" if kept else path


def short_day(day: date) -> str:
    """Like Mon 30 Mar."""
    return f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1]}"


def long_day(day: date) -> str:
    """Like Monday 30 Mar 2026."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def clock(moment: datetime, *, twice: bool = False) -> str:
    """The time of day; with the zone's own letters where the time comes twice that day."""
    return f"{moment:%H:%M}{f' {moment.tzname()}' if twice else ''}"


def local_moment(moment: datetime, zone: ZoneInfo) -> str:
    """Day and time of day on the clock of the practice."""
    local = moment.astimezone(zone)
    return f"{shown_date(local.date())}, {local:%H:%M}"


def day_asked(text: str, today: date) -> date:
    """The day of an address; today where it names none."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return today
    # Leaves room for a month before and after at both ends of what a date can be.
    return day if 1900 <= day.year <= 2200 else today
