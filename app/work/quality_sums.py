"""From facts to the sums that the review reads: which cells a fact counts in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from app.storage.quality_figures import SUMS, QualityCase, QualityFact
from app.work.quality_facts import Case, Fact

Key = tuple[str, str, date, str, str]
"""Grain, dimension, start, operator, value: what names a cell."""
Sums = dict[Key, list[int]]

WHOLE = "whole"
"""The dimension of everything together."""
PLACE = {name: number for number, name in enumerate(SUMS)}


def slot_value(template_key: str, slot: str) -> str:
    """Names a view: template and slot, which is also the stratum of a fair comparison."""
    return f"{template_key}|{slot}"


def fault_value(region: str, code: str) -> str:
    """Names a fault of a region."""
    return f"{region}|{code}"


def add_facts(sums: Sums, facts: Iterable[Fact | QualityFact], sign: int = 1) -> None:
    """Add what exposures count for, or take it off where ``sign`` is -1."""
    for fact in facts:
        row = [
            sign,
            sign * fact.reviewed,
            sign * fact.faultless,
            sign * fact.non_diagnostic,
            sign * fact.retaken,
            sign * fact.repeats,
            sign * fact.avoidable,
        ]
        for key in _cells_of(fact):
            _add(sums, key, row)
        for key, name in _faults_of(fact):
            single = [0] * len(SUMS)
            single[PLACE[name]] = sign
            if name == "retaken" and fact.avoidable:
                single[PLACE["avoidable"]] = sign
            _add(sums, key, single)


def _cells_of(fact: Fact | QualityFact) -> Iterator[Key]:
    by = fact.operator_id
    yield ("day", WHOLE, fact.day, by, "")
    yield ("month", WHOLE, fact.month, by, "")
    yield ("month", "region", fact.month, by, fact.region)
    yield ("month", "slot", fact.month, by, slot_value(fact.template_key, fact.slot))
    yield ("month", "room", fact.month, by, fact.room_id)
    yield ("month", "receptor", fact.month, by, fact.receptor_id)
    yield ("month", "template", fact.month, by, fact.template_key)
    yield ("month", "age_group", fact.month, by, fact.age_group)


def _faults_of(fact: Fact | QualityFact) -> Iterator[tuple[Key, str]]:
    """Cells by reason: the reason of the retake, and each fault that took something."""
    if fact.retaken:
        yield ("month", "reason", fact.month, fact.operator_id, fact.retake_reason), "retaken"
    for code in fact.lost_codes.strip(",").split(",") if fact.lost_codes else ():
        yield ("month", "reason", fact.month, fact.operator_id, code), "non_diagnostic"
        yield ("month", "fault", fact.month, fact.operator_id, fault_value(fact.region, code)), "non_diagnostic"


def add_cases(sums: Sums, cases: Iterable[Case | QualityCase], sign: int = 1) -> None:
    """Add what closed series count for, or take it off where ``sign`` is -1."""
    first = PLACE["closed"]
    for case in cases:
        row = [0] * first + [
            sign,
            sign * case.incomplete,
            sign * case.retakes_missed,
            sign * case.plan_count,
            sign * case.every_fault_count,
        ]
        by = case.operator_id
        _add(sums, ("month", WHOLE, case.month, by, ""), row)
        _add(sums, ("month", "template", case.month, by, case.template_key), row)
        _add(sums, ("month", "room", case.month, by, case.room_id), row)
        _add(sums, ("month", "age_group", case.month, by, case.age_group), row)


def _add(sums: Sums, key: Key, row: list[int]) -> None:
    cell = sums.get(key)
    if cell is None:
        cell = sums[key] = [0] * len(SUMS)
    for place, count in enumerate(row):
        cell[place] += count
