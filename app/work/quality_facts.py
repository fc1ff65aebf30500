"""What the quality review counts of one series: a fact for each exposure, and one for its closing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date

from app.core.exposures import Exposure
from app.core.reading import Reading
from app.core.retakes import RetakePlan, smallest_retake_plan
from app.core.series import Series
from app.core.templates import Template
from app.storage.series import ExposureRow, SeriesRow, SignOff
from app.work.quality_period import age_group


@dataclass(kw_only=True)
class Fact:
    """A `QualityFact` that is being counted: plain, because rows cost ten times as much to make."""

    id: str
    practice_id: str
    series_id: str
    day: date
    month: date
    operator_id: str
    room_id: str
    receptor_id: str
    template_key: str
    slot: str
    region: str
    age_group: str
    reviewed: bool
    faultless: bool
    non_diagnostic: bool = False
    retaken: bool = False
    repeats: bool = False
    avoidable: bool = False
    retake_reason: str = ""
    lost_codes: str = ""


@dataclass(kw_only=True)
class Case:
    """A `QualityCase` that is being counted."""

    id: str
    practice_id: str
    day: date
    month: date
    operator_id: str
    room_id: str
    template_key: str
    age_group: str
    incomplete: bool
    retakes_missed: int
    plan_count: int = 0
    every_fault_count: int = 0


@dataclass(frozen=True, kw_only=True)
class Counted:
    """What one series counts for."""

    facts: tuple[Fact, ...]
    case: Case | None


def counted_of(
    row: SeriesRow,
    template: Template,
    born: date,
    exposures: Sequence[ExposureRow],
    signed: SignOff | None,
    core: Callable[[], Series],
) -> Counted:
    """What a series counts for in the quality review.

    Parameters
    ----------
    template : the series' frozen template
    exposures : every exposure in the order made, those set aside too
    core : makes the core's series; asked for only where a fault, a retake or a gap needs it
    """
    standing = [each for each in exposures if each.set_aside_reason is None]
    regions = {slot.id: slot.projection or slot.kind for slot in template.slots}
    facts = {each.id: _plain_fact(row, regions, born, each) for each in standing}
    case = None if signed is None else _case(row, born, standing, signed)
    needed = {slot.id for slot in template.required_slots}
    clean = all(each.reviewed and not each.shortfalls and not each.retake_of for each in standing)
    closed_short = signed is not None and signed.verdict != "complete"
    if clean and not closed_short and needed <= {each.slot for each in standing}:
        return Counted(facts=tuple(facts.values()), case=case)
    series = core()
    reading = Reading(series)
    _say_what_was_lost(facts, reading)
    _say_what_was_retaken(facts, reading, {each.id: each for each in standing})
    if case is not None:
        plan = _plan_after_first_pass(reading)
        case.plan_count, case.every_fault_count = plan.count, plan.repeat_every_fault_count
    return Counted(facts=tuple(facts.values()), case=case)


def _plain_fact(row: SeriesRow, regions: dict[str, str], born: date, each: ExposureRow) -> Fact:
    day = each.taken_at.astimezone(UTC).date()
    return Fact(
        id=each.id,
        practice_id=row.practice_id,
        series_id=row.id,
        day=day,
        month=day.replace(day=1),
        operator_id=each.operator_id,
        room_id=each.room_id or "",
        receptor_id=each.receptor_id or "",
        template_key=row.template_key,
        slot=each.slot or "",
        region=regions.get(each.slot or "", ""),
        age_group=age_group(born, day),
        reviewed=each.reviewed,
        faultless=each.reviewed and not each.shortfalls,
    )


def _case(row: SeriesRow, born: date, standing: Sequence[ExposureRow], signed: SignOff) -> Case:
    day = signed.closed_at.astimezone(UTC).date()
    incomplete = signed.verdict == "incomplete"
    plan = signed.audit.get("retake_plan", {})
    return Case(
        id=row.id,
        practice_id=row.practice_id,
        day=day,
        month=day.replace(day=1),
        operator_id=row.started_by,
        room_id=row.room_id or "",
        template_key=row.template_key,
        age_group=age_group(born, day),
        incomplete=incomplete,
        retakes_missed=int(plan.get("count", 0)) if incomplete else 0,
    )


def _say_what_was_lost(facts: dict[str, Fact], reading: Reading) -> None:
    for exposure in reading.series.exposures:
        if not exposure.reviewed or not exposure.shortfalls:
            continue
        lost = reading.lost(exposure)
        codes = {code.value for taken in lost.values() for code in taken}
        in_order = dict.fromkeys(fault.code.value for fault in exposure.shortfalls if fault.code.value in codes)
        fact = facts[exposure.id]
        fact.non_diagnostic = bool(lost)
        fact.lost_codes = "".join(f",{code}" for code in in_order) + "," if in_order else ""


def _say_what_was_retaken(facts: dict[str, Fact], reading: Reading, rows: dict[str, ExposureRow]) -> None:
    """A retake counts at the image that it replaces; further ones of the same image count no more."""
    shown: set[str] = set()
    for exposure in reading.series.exposures:
        replaced = facts.get(exposure.retake_of or "")
        if replaced is not None:
            facts[exposure.id].repeats = True
            if not replaced.retaken:
                replaced.retaken = True
                replaced.retake_reason = rows[exposure.id].retake_reason or "not_said"
            if _had_nothing_to_add(exposure, rows[replaced.id], reading, shown):
                replaced.avoidable = True
        shown |= reading.shown(exposure)


def _had_nothing_to_add(retake: Exposure, replaced: ExposureRow, reading: Reading, shown: set[str]) -> bool:
    """Whether everything that the retake's view and the replaced image's should show was seen before it."""
    if not replaced.reviewed:
        # Nobody had said what it lacks.
        return False
    views = {slot for slot in (retake.slot, replaced.slot) if slot is not None}
    return bool(views) and all(reading.promised(slot) <= shown for slot in views)


def _plan_after_first_pass(reading: Reading) -> RetakePlan:
    """The smallest plan as the series stood before its first retake, as the audit would have it then."""
    first_pass: list[Exposure] = []
    shown: set[str] = set()
    for exposure in reading.series.exposures:
        if exposure.retake_of is not None:
            break
        first_pass.append(exposure)
        shown |= reading.shown(exposure)
    gaps = [target for target in reading.asked if target not in shown]
    return smallest_retake_plan(replace(reading.series, exposures=tuple(first_pass)), gaps, reading.promised)
