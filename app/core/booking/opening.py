"""Opening hours of a room as spans of real time, and the times that are free in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.core.booking.clock import first_moment_from, moments_at
from app.core.errors import InputError

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

STEP_MINUTES = 5
"""Appointments begin and last in steps of five minutes. Common practice, no source."""
SHORTEST_MINUTES, LONGEST_MINUTES = 5, 240
"""No radiograph takes less, and no visit is meant that takes longer. Common practice, no source."""


@dataclass(frozen=True, order=True)
class Span:
    """A span of real time: from ``start`` up to, not including, ``end``; both in UTC."""

    start: datetime
    end: datetime

    @property
    def minutes(self) -> float:
        """How long it really lasts, minutes."""
        return (self.end - self.start) / timedelta(minutes=1)

    def overlaps(self, other: Span) -> bool:
        """Whether they share any time; spans that only touch do not."""
        return self.start < other.end and other.start < self.end

    def holds(self, other: Span) -> bool:
        """Whether the other lies wholly inside."""
        return self.start <= other.start and other.end <= self.end


@dataclass(frozen=True, order=True)
class Hours:
    """A room is open on a weekday (0 Monday to 6 Sunday) from one local time to another."""

    weekday: int
    opens: time
    closes: time


def checked_week(hours: Iterable[Hours], path: str = "hours") -> tuple[Hours, ...]:
    """The hours in order, when they can be a week.

    Raises
    ------
    InputError
        At ``path[n]``: a span that ends before it begins, or two of one day that overlap.
    """
    week = tuple(sorted(hours))
    for number, each in enumerate(week):
        day = WEEKDAYS[each.weekday]
        if each.closes <= each.opens:
            raise InputError(
                f"{path}[{number}]",
                f"{day} opens at {each.opens:%H:%M} and closes at {each.closes:%H:%M}. "
                "Let it close after it opens",
            )
        before = week[number - 1] if number else None
        if before is not None and before.weekday == each.weekday and before.closes > each.opens:
            raise InputError(
                f"{path}[{number}]",
                f"two spans of {day} overlap: one closes at {before.closes:%H:%M}, the next opens at "
                f"{each.opens:%H:%M}. Make them one",
            )
    return week


def open_spans(day: date, week: Iterable[Hours], zone: ZoneInfo) -> tuple[Span, ...]:
    """When a room is really open on a day.

    A time that clocks skip counts from the moment they jump; of an hour that comes twice, a room opens at the
    first and closes at the second.
    """
    spans = []
    for each in sorted(week):
        if each.weekday != day.weekday():
            continue
        start = first_moment_from(day, each.opens, zone)
        end = (moments_at(day, each.closes, zone) or (first_moment_from(day, each.closes, zone),))[-1]
        if end > start:
            spans.append(Span(start, end))
    return tuple(spans)


def free_starts(
    spans: Iterable[Span], busy: Sequence[Span], minutes: int, *, not_before: datetime, every: int = 10
) -> tuple[datetime, ...]:
    """The moments at which an appointment of that length could begin.

    Parameters
    ----------
    spans : when the room is open
    busy : what is booked in it, in any order
    minutes : length of the appointment
    not_before : this moment: nothing is booked into the past
    every : distance of the times offered, minutes, counted from the opening; the end of an appointment is
        offered too

    Returns
    -------
    tuple of datetime
        In UTC, ascending; each lies with its whole length inside one span and overlaps nothing.
    """
    length, step = timedelta(minutes=minutes), timedelta(minutes=every)
    found: set[datetime] = set()
    for span in spans:
        taken = sorted(each for each in busy if each.overlaps(span))
        starts = {span.start + step * number for number in range(int((span.end - span.start) / step) + 1)}
        starts |= {each.end for each in taken}
        for start in starts:
            wanted = Span(start, start + length)
            if start >= not_before and span.holds(wanted) and not any(each.overlaps(wanted) for each in taken):
                found.add(start)
    return tuple(sorted(found))


def checked_minutes(text: str, path: str = "minutes") -> int:
    """The length of an appointment.

    Raises
    ------
    InputError
        Not a whole number, not in steps of five, too short or too long.
    """
    clean = text.strip()
    if not (clean.isascii() and clean.isdigit() and len(clean) < 6):
        raise InputError(path, f'"{text}" is not a number of minutes. Write one like 20')
    minutes = int(clean)
    if not SHORTEST_MINUTES <= minutes <= LONGEST_MINUTES or minutes % STEP_MINUTES:
        raise InputError(
            path,
            f"{minutes} minutes cannot be booked. Choose {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes "
            f"in steps of {STEP_MINUTES}",
        )
    return minutes


def why_not_open(wanted: Span, spans: Sequence[Span], zone: ZoneInfo) -> str:
    """Why a room cannot be booked then, or empty where it is open the whole time."""
    if any(each.holds(wanted) for each in spans):
        return ""
    if not spans:
        return "the room is closed on that day"
    hours = " and ".join(
        f"{each.start.astimezone(zone):%H:%M} to {each.end.astimezone(zone):%H:%M}" for each in spans
    )
    return f"the room is open {hours} on that day"


def usual_minutes(images: int) -> int:
    """The length proposed for a visit in which so many images are taken: ten minutes and one for each image.

    Rounded up to steps of five. Common practice, no source; the desk may choose another.

    Examples
    --------
    >>> usual_minutes(4), usual_minutes(18), usual_minutes(0)
    (15, 30, 10)
    """
    return -(-(10 + images) // STEP_MINUTES) * STEP_MINUTES
