"""Appointments as an iCalendar file (RFC 5545) for a calendar program to read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Event

PRODUCT = "-//fullcount//appointments//EN"


@dataclass(frozen=True, kw_only=True)
class FeedEvent:
    """One appointment as others may see it: nothing clinical.

    Parameters
    ----------
    uid : the same for ever, and nowhere else in the world
    starts, ends : in the practice's zone
    stamp : when it was last changed, UTC
    sequence : how often it was changed
    """

    uid: str
    starts: datetime
    ends: datetime
    summary: str
    place: str
    stamp: datetime
    sequence: int
    cancelled: bool = False


def calendar_bytes(name: str, events: Iterable[FeedEvent]) -> bytes:
    """The events as a calendar; the same events give the same bytes.

    Lines end in CRLF and are folded at 75 octets, text is escaped, and the time zones used are described, all by
    the icalendar library. Without a METHOD, DTSTAMP is the moment of the last change (RFC 5545, 3.8.7.2).
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # RFC 7986, 5.1 and 5.7: the calendar's name, and how often it is worth asking again.
    calendar.add("name", name)
    calendar.add("refresh-interval", timedelta(minutes=30), parameters={"VALUE": "DURATION"})
    for each in events:
        event = Event()
        event.add("uid", each.uid)
        event.add("dtstamp", each.stamp)
        event.add("last-modified", each.stamp)
        event.add("sequence", each.sequence)
        event.add("dtstart", _written(each.starts))
        event.add("dtend", _written(each.ends))
        event.add("summary", each.summary)
        event.add("location", each.place)
        event.add("status", "CANCELLED" if each.cancelled else "CONFIRMED")
        event.add("class", "PRIVATE")
        calendar.add_component(event)
    calendar.add_missing_timezones()
    return bytes(calendar.to_ical())


def _written(local: datetime) -> datetime:
    """The moment in its zone; in UTC where the local time comes twice and the second is meant.

    A local time that comes twice means the first (RFC 5545, 3.3.5), so the second cannot be written as one.
    """
    first = local.replace(fold=0).astimezone(UTC)
    return local if first == local.astimezone(UTC) else local.astimezone(UTC)


def initials(name: str) -> str:
    """The first letters of the parts of a name: all that a feed says of a patient by itself.

    Examples
    --------
    >>> initials("Ada Merriweather-Stone"), initials("  élodie "), initials("")
    ('A. M.', 'É.', '')
    """
    letters = (next((letter for letter in part if letter.isalpha()), "") for part in name.split())
    return " ".join(f"{letter.upper()}." for letter in letters if letter)
