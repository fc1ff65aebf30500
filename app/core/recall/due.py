"""When radiographs may be due: from a dentist's prescription, else from the table that the practice chose.

A prescription always wins. A table proposes bitewings only, and the dentist decides. A full-mouth series comes
from a prescription alone, never from the calendar. Where neither says anything, a day is proposed on which the
dentist reviews; nothing is ever prescribed here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.core.recall.counting import Counted
from app.core.recall.guidance import ADULT_YEARS, AgeGroup, IntervalTable, Risk
from app.core.recall.intervals import Months, Window, birthday, day_before, months_after, window_after, window_on

RecallKind = Literal["bitewings", "full_series", "review"]
Basis = Literal["prescription", "table", "none"]
State = Literal["open", "booked", "held", "none"]

GRACE_MONTHS = 1
"""Months between due and overdue where a single day or number is given (common practice, no source)."""

REVIEW_MONTHS = 12
"""Months after the last images to a review where nothing is prescribed (common practice, no source)."""

FOREVER = date.max
"""Until somebody does something."""

REASONS: dict[str, str] = {
    "prescribed": "prescribed by the dentist",
    "interval": "proposed from the table, for the dentist to decide",
    "no_table": "no table of intervals is chosen: for the dentist to decide",
    "no_risk": "no caries risk is on record: for the dentist to decide",
    "no_row": "the table gives no months for this patient: for the dentist to decide",
    "no_images": "no earlier images are on record: for the dentist to decide",
    "not_applicable": "the table says that bitewings do not apply here",
    "no_contacts": "no back teeth touch: bitewings have nothing to show",
}
"""Why a line stands as it does, by code."""


@dataclass(frozen=True, kw_only=True)
class Prescription:
    """What a dentist prescribed: an interval in months, or one day.

    Parameters
    ----------
    on, ends_on : first and last day on which it holds
    """

    id: str
    kind: Literal["bitewings", "full_series"]
    months: int | None
    day: date | None
    on: date
    ends_on: date

    def holds_on(self, today: date) -> bool:
        """Whether it is in force."""
        return self.on <= today <= self.ends_on


@dataclass(frozen=True, kw_only=True)
class Hold:
    """From when until when a patient is not called; without an end until lifted."""

    kind: str
    from_on: date
    until_on: date | None

    def holds_on(self, today: date) -> bool:
        """Whether it is in force."""
        return self.from_on <= today and (self.until_on is None or today <= self.until_on)


@dataclass(frozen=True, kw_only=True)
class Facts:
    """All that is known of one patient's recall.

    Parameters
    ----------
    registered_on : from when a review waits where there are no images at all
    has_contacts : whether any back teeth touch
    booked : appointment id and its day, for each appointment that stands
    """

    born: date
    group: AgeGroup
    has_contacts: bool
    registered_on: date
    risk: Risk | None
    counted: Counted
    prescriptions: tuple[Prescription, ...] = ()
    holds: tuple[Hold, ...] = ()
    booked: tuple[tuple[str, date], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """One line of a patient's recall; ``window`` is None where the calendar proposes nothing."""

    kind: RecallKind
    window: Window | None
    last_on: date | None
    basis: Basis
    source: str
    because: str
    condition: str = ""


@dataclass(frozen=True, kw_only=True)
class Standing:
    """Whether the patient is to be called, and until when this is right if nobody does anything."""

    state: State
    held_for: str
    booked_on: date | None
    appointment_id: str
    valid_until: date


def proposals(facts: Facts, table: IntervalTable | None, today: date) -> tuple[Proposal, ...]:
    """The patient's lines: one of bitewings or review always, one of a full-mouth series where prescribed.

    Parameters
    ----------
    table : the practice's choice; None where it chose none
    """
    prescribed = _in_force(facts, "bitewings", today)
    first = None if prescribed is None else _prescribed(prescribed, facts.counted.bitewings_on)
    found = [first or _without_prescription(facts, table)]
    series = _in_force(facts, "full_series", today)
    line = None if series is None else _prescribed(series, facts.counted.full_on)
    return (*found, *([line] if line is not None else []))


def _in_force(facts: Facts, kind: str, today: date) -> Prescription | None:
    """The prescription written last of those in force."""
    holding = [each for each in facts.prescriptions if each.kind == kind and each.holds_on(today)]
    return sorted(holding, key=lambda each: each.on)[-1] if holding else None


def _prescribed(prescription: Prescription, last: date | None) -> Proposal | None:
    """The line of a prescription; None where the one day that it named has been served."""
    if prescription.day is not None:
        if last is not None and _serves(last, prescription, prescription.day):
            return None
        window = window_on(prescription.day, grace_months=GRACE_MONTHS)
    elif prescription.months is not None and last is not None:
        months = Months(prescription.months, prescription.months)
        window = window_after(last, months, grace_months=GRACE_MONTHS)
    else:
        window = window_on(prescription.on, grace_months=GRACE_MONTHS)
    return Proposal(
        kind=prescription.kind,
        window=window,
        last_on=last,
        basis="prescription",
        source=prescription.id,
        because="prescribed",
    )


def _serves(last: date, prescription: Prescription, day: date) -> bool:
    """Whether images serve a prescribed day: on or after it, or up to a month before it."""
    return last >= day or (last > prescription.on and last >= months_after(day, -GRACE_MONTHS))


def _without_prescription(facts: Facts, table: IntervalTable | None) -> Proposal:
    source = table.key if table is not None else ""
    if facts.group == "edentulous" or not facts.has_contacts:
        return Proposal(
            kind="review",
            window=None,
            last_on=facts.counted.newest_on,
            basis="none",
            source="",
            because="no_contacts",
        )
    if table is None:
        return _review(facts, "", "no_table")
    if facts.risk is None:
        return _review(facts, source, "no_risk")
    row = table.interval(facts.group, facts.risk)
    if row is None:
        return _review(facts, source, "no_row")
    if row.months is None:
        return Proposal(
            kind="review",
            window=None,
            last_on=facts.counted.newest_on,
            basis="table",
            source=source,
            because="not_applicable",
        )
    last = facts.counted.bitewings_on
    if last is None:
        return _review(facts, source, "no_images")
    return Proposal(
        kind="bitewings",
        window=window_after(last, row.months, grace_months=GRACE_MONTHS),
        last_on=last,
        basis="table",
        source=source,
        because="interval",
        condition=row.condition,
    )


def _review(facts: Facts, source: str, because: str) -> Proposal:
    """A day for the dentist to look: a year after the last images, or since registration where there are none."""
    last = facts.counted.bitewings_on or facts.counted.newest_on
    day = facts.registered_on if last is None else months_after(last, REVIEW_MONTHS)
    return Proposal(
        kind="review",
        window=window_on(day, grace_months=GRACE_MONTHS),
        last_on=last,
        basis="none",
        source=source,
        because=because,
    )


def standing(facts: Facts, proposal: Proposal, today: date) -> Standing:
    """Whether the line is open, booked or held; a hold is told first, an appointment of the past is none."""
    hold = next((each for each in facts.holds if each.holds_on(today)), None)
    newest = facts.counted.newest_on
    coming = sorted((day, key) for key, day in facts.booked if day >= today and (newest is None or newest < day))
    booked_on, appointment = coming[0] if coming else (None, "")
    state: State = "none" if proposal.window is None else "open"
    if booked_on is not None:
        state = "booked"
    if hold is not None:
        state = "held"
    return Standing(
        state=state,
        held_for=hold.kind if hold is not None else "",
        booked_on=booked_on,
        appointment_id=appointment,
        valid_until=_valid_until(facts, today),
    )


def _valid_until(facts: Facts, today: date) -> date:
    """The last day before the calendar alone changes anything: a birthday, an end, a hold, a visit."""
    nexts = [birthday(facts.born, ADULT_YEARS), *_first_days(facts)]
    coming = [day for day in nexts if day > today]
    return day_before(min(coming)) if coming else FOREVER


def _first_days(facts: Facts) -> Iterable[date]:
    """Days on which something begins, or has just ended."""
    for each in facts.prescriptions:
        yield from (each.on, _next(each.ends_on))
    for hold in facts.holds:
        yield hold.from_on
        if hold.until_on is not None:
            yield _next(hold.until_on)
    for _, day in facts.booked:
        yield _next(day)


def _next(day: date) -> date:
    return date.fromordinal(min(day.toordinal() + 1, date.max.toordinal()))
