"""Feeds are what RFC 5545 asks for: read back by the icalendar library, and bytes checked by hand."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from icalendar import Calendar

from app.exchange.icalendar_feed import FeedEvent, calendar_bytes, initials

BERLIN = ZoneInfo("Europe/Berlin")


def event(**changed: Any) -> FeedEvent:
    words: dict[str, Any] = {
        "uid": "a1@fullcount.invalid",
        "starts": datetime(2026, 3, 30, 9, 0, tzinfo=BERLIN),
        "ends": datetime(2026, 3, 30, 9, 20, tzinfo=BERLIN),
        "summary": "Appointment: A. M.",
        "place": "Garden",
        "stamp": datetime(2026, 3, 27, 7, 0, tzinfo=UTC),
        "sequence": 0,
    }
    return FeedEvent(**(words | changed))


def unfolded(body: bytes) -> list[bytes]:
    return body.replace(b"\r\n ", b"").split(b"\r\n")


def test_the_library_reads_back_what_was_written() -> None:
    body = calendar_bytes("Heron Lane", [event(), event(uid="b2", cancelled=True, sequence=3)])
    first, second = Calendar.from_ical(body).walk("VEVENT")

    assert first.decoded("dtstart") == datetime(2026, 3, 30, 7, 0, tzinfo=UTC)
    assert (first.decoded("dtend") - first.decoded("dtstart")).seconds == 20 * 60
    assert str(first["summary"]) == "Appointment: A. M."
    assert (str(first["status"]), str(second["status"]), second["sequence"]) == ("CONFIRMED", "CANCELLED", 3)


def test_a_calendar_names_its_version_and_maker_and_every_event_its_uid_and_stamp() -> None:
    """RFC 5545, 3.6 and 3.6.1: VERSION, PRODID, UID and DTSTAMP are required."""
    lines = unfolded(calendar_bytes("Heron Lane", [event()]))

    assert lines[0] == b"BEGIN:VCALENDAR"
    assert b"VERSION:2.0" in lines
    assert any(line.startswith(b"PRODID:") for line in lines)
    assert b"UID:a1@fullcount.invalid" in lines
    assert b"DTSTAMP:20260327T070000Z" in lines


def test_every_line_ends_in_crlf_and_none_stands_alone() -> None:
    body = calendar_bytes("Heron Lane", [event(summary="one\ntwo\r\nthree")])

    assert body.endswith(b"END:VCALENDAR\r\n")
    assert body.count(b"\n") == body.count(b"\r\n") == body.count(b"\r")


def test_lines_are_folded_at_75_octets_and_never_inside_a_character() -> None:
    """RFC 5545, 3.1; the place is of characters of three octets, so that 75 falls inside one."""
    body = calendar_bytes("Heron Lane", [event(place="x" + "歯" * 60)])
    lines = body.split(b"\r\n")

    assert max(len(line) for line in lines) <= 75
    assert all(line.decode("utf-8") is not None for line in lines)
    assert "LOCATION:x{}".format("歯" * 60).encode() in unfolded(body)


def test_text_is_escaped_backslash_first() -> None:
    r"""RFC 5545, 3.3.11, worked by hand: a\b;c,d and a new line become a\\b\;c\,d\n."""
    body = calendar_bytes("Heron Lane", [event(summary="a\\b;c,d\ne")])

    assert rb"SUMMARY:a\\b\;c\,d\ne" in unfolded(body)


def test_a_name_cannot_begin_a_property_of_its_own() -> None:
    body = calendar_bytes("Heron Lane", [event(summary="x\r\nATTENDEE:mailto:a@example.org")])

    assert not any(line.startswith(b"ATTENDEE") for line in body.split(b"\r\n"))
    assert [str(each["summary"]).splitlines()[0] for each in Calendar.from_ical(body).walk("VEVENT")] == ["x"]


def test_the_time_zone_is_described_with_both_of_its_offsets() -> None:
    """RFC 5545, 3.6.5: a TZID used must be described."""
    body = calendar_bytes("Heron Lane", [event()])
    (zone,) = Calendar.from_ical(body).walk("VTIMEZONE")
    offsets = {line for line in unfolded(body) if line.startswith(b"TZOFFSETTO")}

    assert str(zone["tzid"]) == "Europe/Berlin"
    assert b"DTSTART;TZID=Europe/Berlin:20260330T090000" in unfolded(body)
    assert offsets == {b"TZOFFSETTO:+0100", b"TZOFFSETTO:+0200"}


def test_the_second_of_a_doubled_hour_is_read_back_as_the_second() -> None:
    start = datetime(2026, 10, 25, 2, 30, fold=1, tzinfo=BERLIN)
    body = calendar_bytes("Heron Lane", [event(starts=start, ends=start.replace(minute=50))])
    (found,) = Calendar.from_ical(body).walk("VEVENT")

    assert found.decoded("dtstart").astimezone(UTC) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_the_same_events_give_the_same_bytes() -> None:
    assert calendar_bytes("Heron Lane", [event()]) == calendar_bytes("Heron Lane", [event()])


def test_an_empty_calendar_is_still_a_calendar() -> None:
    assert Calendar.from_ical(calendar_bytes("Heron Lane", [])).walk("VEVENT") == []


def test_initials_say_no_more_than_letters() -> None:
    assert [initials(name) for name in ("Ada Merriweather-Stone", "élodie  (née) x", "7")] == [
        "A. M.",
        "É. N. X.",
        "",
    ]
