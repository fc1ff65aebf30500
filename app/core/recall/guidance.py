"""Published tables of recall intervals, as data: who said it, when, for whom, and whether it still stands.

A table proposes; it prescribes nothing. Where it says nothing for a patient the answer is None, not a guess.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from app.core.dentition import Dentition, ToothState
from app.core.errors import InputError, did_you_mean
from app.core.recall.intervals import Months, age_on

AgeGroup = Literal["child_primary", "child_transitional", "adolescent", "adult", "edentulous"]
GROUPS: dict[AgeGroup, str] = {
    "child_primary": "child, primary teeth",
    "child_transitional": "child, mixed teeth",
    "adolescent": "adolescent, permanent teeth",
    "adult": "adult with teeth",
    "edentulous": "no teeth",
}
"""Age groups and dentition stages, in words."""

Risk = Literal["low", "moderate", "high"]
RISKS: tuple[Risk, ...] = ("high", "moderate", "low")

ADULT_YEARS = 18
"""Age from which somebody is an adult here, years (common practice, no source: the tables name third molars)."""

Status = Literal["current", "superseded"]


def group_of(dentition: Dentition, born: date, today: date) -> AgeGroup:
    """The age group or dentition stage: by the chart under 18, by the years from then on.

    Teeth are counted that stand in the mouth: natural ones and implants. A mouth of roots and gaps alone has no
    contact for a bitewing to show, and counts as without teeth.
    """
    if not has_teeth(dentition):
        return "edentulous"
    if age_on(born, today) >= ADULT_YEARS:
        return "adult"
    stages: dict[str, AgeGroup] = {"primary": "child_primary", "mixed": "child_transitional"}
    return stages.get(dentition.kind, "adolescent")


def has_teeth(dentition: Dentition) -> bool:
    """Whether any tooth or implant stands in the mouth."""
    standing = (ToothState.PRESENT, ToothState.IMPLANT)
    return any(dentition.state(tooth) in standing for tooth in dentition.positions())


@dataclass(frozen=True, kw_only=True)
class Interval:
    """One row: for whom, at what risk, how many months between bitewings.

    Parameters
    ----------
    groups, risks : whom it is for; a risk may stand in one row only for each group
    months : None where the table says that it does not apply
    condition : what it asks besides, like ``if contacts are closed``; empty for nothing
    source : where it was published, with the grade of the finding
    """

    groups: tuple[AgeGroup, ...]
    risks: tuple[Risk, ...]
    months: Months | None
    condition: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        for name, given, known in (("groups", self.groups, tuple(GROUPS)), ("risks", self.risks, RISKS)):
            if not given:
                raise InputError(name, f"this row is for nobody. Name one of {', '.join(known)}")
            for each in given:
                if each not in known:
                    raise InputError(
                        name, f'"{each}" is not known here. Write {", ".join(known)}.' + did_you_mean(each, known)
                    )


@dataclass(frozen=True, kw_only=True)
class IntervalTable:
    """One body's table of bitewing intervals.

    Parameters
    ----------
    key : id, like ``ada_fda_2012``
    short : name under which it is cited beside a date
    body, title, year, dated : who published it, under what title, in which year, when exactly as far as known
    status : ``current`` or ``superseded``
    superseded_by : what replaced it and when, in words; empty for nothing
    note : what else must be known, like that no table of months was found
    source : where it was read, with the grade of the finding
    edited : whether the practice changed what was published
    """

    key: str
    short: str
    body: str
    title: str
    year: int
    dated: str
    status: Status
    superseded_by: str
    note: str
    source: str
    rows: tuple[Interval, ...]
    edited: bool = False
    _by_whom: Mapping[tuple[AgeGroup, Risk], Interval] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.status not in ("current", "superseded"):
            raise InputError("status", f'"{self.status}" is no status. Write current or superseded')
        if (self.status == "superseded") != bool(self.superseded_by):
            raise InputError("superseded_by", "say what replaced it where it is superseded, and only there")
        found: dict[tuple[AgeGroup, Risk], Interval] = {}
        for index, row in enumerate(self.rows):
            for group in row.groups:
                for risk in row.risks:
                    if (group, risk) in found:
                        raise InputError(
                            f"rows[{index}]",
                            f"{GROUPS[group]} at {risk} risk stands twice. Keep one of the two rows",
                        )
                    found[group, risk] = row
        object.__setattr__(self, "_by_whom", found)

    def interval(self, group: AgeGroup, risk: Risk) -> Interval | None:
        """The row for somebody; None where the table has none."""
        return self._by_whom.get((group, risk))

    def status_words(self) -> str:
        """How the table stands, to be written beside each date that rests on it."""
        words = f"superseded: {self.superseded_by}" if self.status == "superseded" else "current as far as known"
        return f"edited by the practice; the published table is {words}" if self.edited else words
