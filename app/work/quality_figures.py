"""The figures of the quality review: retakes, non-diagnostic exposures, avoidable and missed retakes.

Read from the kept sums (`app.storage.quality_figures`); `quality_refresh.bring_up_to_date` comes first. Staff see
their own figures, a dentist sees everybody's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func
from sqlmodel import col, select

from app.core.quality.rates import Rate, rate
from app.exchange.shared_data import builtin_templates, projections, technique_errors
from app.storage.people import Staff
from app.storage.practice import PracticeTemplate, Receptor, Room
from app.storage.practice_scope import PracticeScope
from app.storage.quality_figures import SUMS, QualityCell
from app.work.actor import CHAIRSIDE, DENTISTS, Actor, require
from app.work.quality_period import AGE_GROUPS, DIMENSIONS, Period, checked_choice
from app.work.quality_sums import WHOLE
from app.work.retakes import NOT_TAKEN


@dataclass(frozen=True, kw_only=True)
class FigureRow:
    """The figures of one value of a dimension (`quality_period.DEFINITIONS` says what each counts).

    Parameters
    ----------
    retake : images retaken of exposures
    non_diagnostic : of reviewed exposures
    avoidable : of images retaken
    repeats : exposures that are retakes themselves
    """

    value: str
    title: str
    exposures: int
    reviewed: int
    faultless: int
    retake: Rate
    non_diagnostic: Rate
    avoidable: Rate
    repeats: int


@dataclass(frozen=True, kw_only=True)
class Overview:
    """The figures of a whole period.

    Parameters
    ----------
    missed : series closed incomplete, of series closed
    retakes_missed : exposures that would have completed them
    every_fault_count, plan_count, saved : retakes of every faulty or missing view, of the smallest plans, and the
        difference, over the series closed
    first_day, last_day : of the exposures counted; None where there are none
    operator_id : whose figures; empty for the whole practice
    """

    period: Period
    whole: FigureRow
    missed: Rate
    retakes_missed: int
    every_fault_count: int
    plan_count: int
    saved: int
    first_day: date | None
    last_day: date | None
    operator_id: str


def whose(actor: Actor, operator_id: str) -> str:
    """The operator whose figures the person may see: a dentist whomever they ask for, others themselves.

    Raises
    ------
    NotAllowed
        For the front desk.
    """
    require(actor, CHAIRSIDE, "see the quality review")
    return operator_id if actor.may(DENTISTS) else actor.staff_id


def overview(scope: PracticeScope, actor: Actor, period: Period, operator_id: str = "") -> Overview:
    """Everything of a period together."""
    operator_id = whose(actor, operator_id)
    sums = sums_by(scope, period, WHOLE, operator_id).get("", dict.fromkeys(SUMS, 0))
    days = select(func.min(QualityCell.start), func.max(QualityCell.start)).where(
        QualityCell.practice_id == scope.practice_id,
        QualityCell.grain == "day",
        QualityCell.dimension == WHOLE,
        QualityCell.exposures > 0,
        _within(QualityCell.start, period),
    )
    if operator_id:
        days = days.where(QualityCell.operator_id == operator_id)
    first_day, last_day = scope.session.exec(days).one()
    return Overview(
        period=period,
        whole=figure_row("", "All", sums),
        missed=rate(sums["incomplete"], sums["closed"]),
        retakes_missed=sums["retakes_missed"],
        every_fault_count=sums["every_fault_count"],
        plan_count=sums["plan_count"],
        saved=sums["every_fault_count"] - sums["plan_count"],
        first_day=first_day,
        last_day=last_day,
        operator_id=operator_id,
    )


def figures(
    scope: PracticeScope, actor: Actor, period: Period, by: str, operator_id: str = ""
) -> tuple[FigureRow, ...]:
    """The figures told apart by month, reason, region, slot, operator, room, receptor, template or age group.

    By reason the denominators are those of the whole period; an image with two faults counts under both.

    Raises
    ------
    InputError
        At ``by``: no such dimension.
    """
    operator_id = whose(actor, operator_id)
    checked_choice(by, DIMENSIONS, "by")
    found = sums_by(scope, period, by, operator_id)
    if by == "month":
        # A month without exposures is told as such, not left out.
        found = {f"{month:%Y-%m}": dict.fromkeys(SUMS, 0) for month in period.months} | found
    if by == "reason":
        whole = sums_by(scope, period, WHOLE, operator_id).get("", dict.fromkeys(SUMS, 0))
        same = {name: whole[name] for name in ("exposures", "reviewed", "faultless", "repeats")}
        found = {value: sums | same for value, sums in found.items()}
    named = titles(scope, by, found)
    rows = [figure_row(value, named[value], sums) for value, sums in found.items() if value or sums["exposures"]]
    order = {value: place for place, value in enumerate(named)}
    return tuple(sorted(rows, key=lambda row: order[row.value]))


def _within(column: Any, period: Period) -> Any:
    return col(column).between(period.first, period.last)


def sums_by(scope: PracticeScope, period: Period, by: str, operator_id: str = "") -> dict[str, dict[str, int]]:
    """The sums of a period by the values of a dimension."""
    key: Any = {"month": QualityCell.start, "operator": QualityCell.operator_id}.get(by, QualityCell.value)
    query = select(key, *(func.sum(getattr(QualityCell, name)) for name in SUMS)).where(
        QualityCell.practice_id == scope.practice_id,
        QualityCell.grain == "month",
        QualityCell.dimension == (WHOLE if by in ("month", "operator") else by),
        _within(QualityCell.start, period),
    )
    if operator_id:
        query = query.where(QualityCell.operator_id == operator_id)
    found: dict[str, dict[str, int]] = {}
    for value, *counts in scope.session.execute(query.group_by(key)).all():
        name = f"{value:%Y-%m}" if isinstance(value, date) else str(value)
        found[name] = {column: int(count) for column, count in zip(SUMS, counts, strict=True)}
    return found


def figure_row(value: str, title: str, sums: Mapping[str, int]) -> FigureRow:
    """One line from its sums."""
    return FigureRow(
        value=value,
        title=title,
        exposures=sums["exposures"],
        reviewed=sums["reviewed"],
        faultless=sums["faultless"],
        retake=rate(sums["retaken"], sums["exposures"]),
        non_diagnostic=rate(sums["non_diagnostic"], sums["reviewed"]),
        avoidable=rate(sums["avoidable"], sums["retaken"]),
        repeats=sums["repeats"],
    )


def titles(scope: PracticeScope, by: str, values: Iterable[str]) -> dict[str, str]:
    """What a person reads for the values of a dimension, in the order in which they are shown."""
    wanted = list(values)
    if by == "month":
        return {value: f"{date.fromisoformat(value + '-01'):%b %Y}" for value in sorted(wanted)}
    known = _known_titles(scope, by, wanted)
    # What was renamed or taken away meanwhile still has its code for a name.
    rest = {
        value: value.replace("_", " ").replace("|", ", ") or _NONE.get(by, "not said") for value in sorted(wanted)
    }
    return {value: known[value] for value in known if value in wanted} | {
        value: title for value, title in rest.items() if value not in known
    }


_NONE = {"slot": "no view yet", "region": "no view yet", "room": "no room named", "receptor": "no receptor named"}


def _known_titles(scope: PracticeScope, by: str, values: list[str]) -> dict[str, str]:
    if by == "reason":
        return {code.value: error.name for code, error in technique_errors().items()} | {
            NOT_TAKEN: "Not taken before",
            "not_said": "Not said",
        }
    if by == "age_group":
        return AGE_GROUPS
    if by == "region":
        return {key: each.title for key, each in projections().items()}
    if by == "template":
        return _template_titles(scope)
    if by == "slot":
        return _slot_titles(scope, values)
    table = {"operator": Staff, "room": Room, "receptor": Receptor}[by]
    rows: Any = scope.all(scope.select(table))
    return {row.id: row.name for row in sorted(rows, key=lambda row: row.name)}


def _template_titles(scope: PracticeScope) -> dict[str, str]:
    own = {
        row.key: row.title
        for row in scope.all(scope.select(PracticeTemplate).order_by(col(PracticeTemplate.version)))
    }
    return {key: template.title for key, template in builtin_templates().items()} | own


def _slot_titles(scope: PracticeScope, values: list[str]) -> dict[str, str]:
    """Views by template, in its order; with the template's name where the values are of several."""
    several = len({value.partition("|")[0] for value in values}) > 1
    slots = {
        key: [(slot.id, slot.title) for slot in template.slots] for key, template in builtin_templates().items()
    }
    for row in scope.all(scope.select(PracticeTemplate).order_by(col(PracticeTemplate.version))):
        slots[row.key] = [(slot["id"], slot.get("title", slot["id"])) for slot in row.body.get("slots", ())]
    names = _template_titles(scope)
    return {
        f"{key}|{slot}": f"{title} ({names.get(key, key)})" if several else title
        for key, those in slots.items()
        for slot, title in those
    }
