"""What a person looks for in the recall list; kept in the address, so that a link leads back to the same list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from sqlalchemy import ColumnElement, and_, func, or_
from sqlmodel import col

from app.core.recall.guidance import RISKS
from app.storage.recall import RecallItem

SOON_DAYS = 60
"""How far ahead something is called due soon, days (common practice, no source)."""

WHENS = {
    "overdue": "Overdue",
    "due": "Due now",
    "soon": "Due soon",
    "later": "Later",
    "booked": "Booked",
    "held": "Held or declined",
    "none": "Nothing proposed",
}
"""The parts of the list: every line of the practice stands in exactly one."""

SORTS = {"due": "due date", "risk": "risk, highest first", "contact": "last contact, longest ago first"}
KINDS = {"bitewings": "bitewings", "full_series": "full-mouth series", "review": "review by the dentist"}
RISK_CHOICES = {"high": "high", "moderate": "moderate", "low": "low", "unknown": "not on record"}
CONTACTS = {"phone": "phone", "email": "email", "letter": "letter", "unsaid": "not said"}


@dataclass(frozen=True, kw_only=True)
class RecallFilter:
    """Which lines, and in which order.

    Parameters
    ----------
    when : one of `WHENS`
    risk, kind, contact : one of the choices, or empty for all
    ready : only lines without a next try still ahead
    words : parts of a name or chart number; then lines of every part of the list are shown
    sort : one of `SORTS`
    """

    when: str = "overdue"
    risk: str = ""
    kind: str = ""
    contact: str = ""
    ready: bool = False
    words: str = ""
    sort: str = "due"

    @classmethod
    def from_query(cls, query: Mapping[str, str]) -> RecallFilter:
        """The filter of an address; what it does not know there is passed over."""

        def one_of(name: str, known: Mapping[str, str], default: str = "") -> str:
            given = query.get(name, "")
            return given if given in known else default

        return cls(
            when=one_of("when", WHENS, "overdue"),
            risk=one_of("risk", RISK_CHOICES),
            kind=one_of("kind", KINDS),
            contact=one_of("contact", CONTACTS),
            ready=bool(query.get("ready", "")),
            words=query.get("q", "").strip()[:200],
            sort=one_of("sort", SORTS, "due"),
        )

    def to_query(self, **changes: str) -> str:
        """The filter as the query of an address; ``changes`` names fields of the filter, and ``page``."""
        page = changes.pop("page", "")
        asked = replace(self, **changes)  # type: ignore[arg-type]  # every changed field is a text
        words = {
            "when": asked.when,
            "risk": asked.risk,
            "kind": asked.kind,
            "contact": asked.contact,
            "ready": "yes" if asked.ready else "",
            "q": asked.words,
            "sort": asked.sort if asked.sort != "due" else "",
            "page": page,
        }
        return urlencode({name: value for name, value in words.items() if value})


def narrowing(asked: RecallFilter, today: date) -> list[ColumnElement[bool]]:
    """The conditions of a filter, but for its part of the list."""
    found: list[ColumnElement[bool]] = []
    if asked.risk:
        rank = len(RISKS) if asked.risk == "unknown" else [*RISKS].index(asked.risk)  # type: ignore[arg-type]
        found.append(col(RecallItem.risk_rank) == rank)
    if asked.kind:
        found.append(col(RecallItem.kind) == asked.kind)
    if asked.contact:
        found.append(col(RecallItem.preferred_contact) == ("" if asked.contact == "unsaid" else asked.contact))
    if asked.ready:
        found.append(or_(col(RecallItem.next_try_on).is_(None), col(RecallItem.next_try_on) <= today))
    return found


def part_of_list(when: str, today: date, *, by_due: bool = True) -> ColumnElement[bool]:
    """The condition of one part of the list.

    Parameters
    ----------
    by_due : whether the list is read in the order of its due dates; else the database is kept from looking there
    """
    overdue, state = col(RecallItem.overdue_on), col(RecallItem.state)
    due: ColumnElement[Any] = col(RecallItem.due_on)  # type: ignore[assignment]  # a column is an element
    if not by_due:
        due = func.coalesce(due, due)
    soon = today + timedelta(days=SOON_DAYS)
    match when:
        case "overdue":
            # A line is due no later than it is overdue: this bounds the look into the index, too.
            return and_(state == "open", due < today, overdue < today)
        case "due":
            return and_(state == "open", due <= today, overdue >= today)
        case "soon":
            return and_(state == "open", due > today, due <= soon)
        case "later":
            return and_(state == "open", due > soon)
    return state == when


def when_of(item: RecallItem, today: date) -> str:
    """In which part of the list a line stands."""
    if item.state != "open" or item.due_on is None or item.overdue_on is None:
        return item.state
    if item.overdue_on < today:
        return "overdue"
    if item.due_on <= today:
        return "due"
    return "soon" if item.due_on <= today + timedelta(days=SOON_DAYS) else "later"
