"""The audit: what a series shows, what it does not, why, and what to do about it.

Everything here is computed from the series; nothing is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from app.core.advice import NO_CORRECTIONS, Corrections, advice_for
from app.core.exposures import ShortfallCode
from app.core.reading import Reading
from app.core.retakes import RetakePlan, smallest_retake_plan
from app.core.series import Exemption, Series
from app.core.targets import Target

Verdict = Literal["complete", "unreviewed", "incomplete"]
GapReason = Literal["not_in_template", "not_reviewed", "not_shown", "not_taken"]
TargetState = Literal["covered", "gap", "not_reviewed", "exempt", "not_asked"]


@dataclass(frozen=True)
class Loss:
    """An exposure whose slot promises a target, and the shortfall that took it away."""

    exposure: str
    code: ShortfallCode


@dataclass(frozen=True, kw_only=True)
class Gap:
    """A target that no reviewed image shows.

    Parameters
    ----------
    reason : the first that holds: ``not_in_template`` (no slot shows it in a way the policy accepts),
        ``not_reviewed`` (an unreviewed exposure's slot promises it), ``not_shown`` (a reviewed exposure's slot
        promises it), ``not_taken``
    seen_on : the reviewed exposures that lost it, in order, with the code of each shortfall
    """

    target: Target
    reason: GapReason
    seen_on: tuple[Loss, ...] = ()


@dataclass(frozen=True, kw_only=True)
class MadeUpFor:
    """A faulty image that needs no retake, because other images show all that it lost.

    Parameters
    ----------
    lost : targets of this series that its shortfalls took away; empty where they took nothing asked for
    shown_by : ids of the images that show them, in order
    """

    exposure: str
    slot: str
    codes: tuple[ShortfallCode, ...]
    lost: tuple[Target, ...]
    shown_by: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Audit:
    """What the audit says of a series."""

    series: Series
    verdict: Verdict
    asked: tuple[Target, ...]
    coverage: Mapping[Target, tuple[str, ...]]
    gaps: tuple[Gap, ...]
    exempt: tuple[Exemption, ...]
    plan: RetakePlan
    made_up_for: tuple[MadeUpFor, ...] = field(default=())

    @cached_property
    def _gap_of(self) -> dict[Target, Gap]:
        return {gap.target: gap for gap in self.gaps}

    @cached_property
    def _exempt(self) -> frozenset[Target]:
        return frozenset(exemption.target for exemption in self.exempt)

    def gap_targets(self) -> frozenset[Target]:
        """The targets that are gaps."""
        return frozenset(self._gap_of)

    def gap(self, target: Target) -> Gap | None:
        """The gap at a target, if it is one."""
        return self._gap_of.get(target)

    def state_of(self, target: Target) -> TargetState:
        """How the target stands; ``not_reviewed`` is a gap that waits only for a review."""
        if target in self.coverage:
            return "covered"
        gap = self._gap_of.get(target)
        if gap is not None:
            return "not_reviewed" if gap.reason == "not_reviewed" else "gap"
        return "exempt" if target in self._exempt else "not_asked"


def audit(series: Series, corrections: Corrections = NO_CORRECTIONS) -> Audit:
    """What the series shows, its gaps with their reasons, its verdict, and the smallest retake plan.

    Parameters
    ----------
    series : the exposures in the order in which they were made
    corrections : how each technique error is corrected, for the words of the advice
    """
    reading = Reading(series)
    shown_by: dict[Target, list[str]] = {}
    for exposure in series.exposures:
        for target in reading.shown(exposure):
            shown_by.setdefault(target, []).append(exposure.id)
    coverage = {target: tuple(shown_by[target]) for target in reading.asked if target in shown_by}
    gaps = _gaps(reading, coverage)
    plan = smallest_retake_plan(series, [gap.target for gap in gaps], reading.promised)
    gap_of = {gap.target: gap for gap in gaps}
    plan = replace(
        plan,
        exposures=tuple(
            replace(
                planned,
                advice=advice_for(
                    slot=series.template.slot(planned.slot),
                    closes=planned.closes,
                    codes=_codes_behind(planned.closes, planned.slot, gap_of, series),
                    numbering=series.numbering,
                    corrections=corrections,
                ),
            )
            for planned in plan.exposures
        ),
    )
    return Audit(
        series=series,
        verdict=_verdict(reading, gaps),
        asked=reading.asked,
        coverage=coverage,
        gaps=gaps,
        exempt=reading.exempt,
        plan=plan,
        made_up_for=_made_up_for(reading, coverage),
    )


def _gaps(reading: Reading, coverage: Mapping[Target, tuple[str, ...]]) -> tuple[Gap, ...]:
    series = reading.series
    open_targets = [target for target in reading.asked if target not in coverage]
    if not open_targets:
        return ()
    in_template: set[Target] = set()
    for slot in series.template.slots:
        in_template |= reading.promised(slot.id)
    waiting: set[Target] = set()
    reviewed: set[Target] = set()
    losses: dict[Target, list[Loss]] = {}
    for exposure in series.exposures:
        if exposure.slot is None:
            continue
        if not exposure.reviewed:
            waiting |= reading.promised(exposure.slot)
            continue
        reviewed |= reading.promised(exposure.slot)
        for target, codes in reading.lost(exposure).items():
            losses.setdefault(target, []).extend(Loss(exposure.id, code) for code in codes)

    def reason(target: Target) -> GapReason:
        if target not in in_template:
            return "not_in_template"
        if target in waiting:
            return "not_reviewed"
        return "not_shown" if target in reviewed else "not_taken"

    return tuple(
        Gap(target=target, reason=reason(target), seen_on=tuple(losses.get(target, ()))) for target in open_targets
    )


def _verdict(reading: Reading, gaps: tuple[Gap, ...]) -> Verdict:
    if not gaps:
        return "complete"
    if all(gap.reason == "not_reviewed" for gap in gaps):
        return "unreviewed"
    return "incomplete"


def _codes_behind(
    closes: tuple[Target, ...], slot_id: str, gap_of: Mapping[Target, Gap], series: Series
) -> tuple[ShortfallCode, ...]:
    """The faults to correct at a slot: those of its own images where it has any, else all that lost the gaps."""
    slot_of = {exposure.id: exposure.slot for exposure in series.exposures}
    losses = [loss for target in closes for loss in gap_of[target].seen_on]
    own = [loss for loss in losses if slot_of[loss.exposure] == slot_id]
    return tuple(dict.fromkeys(loss.code for loss in (own or losses)))


def _made_up_for(reading: Reading, coverage: Mapping[Target, tuple[str, ...]]) -> tuple[MadeUpFor, ...]:
    """Faulty images, not repeated already, all of whose losses other images show."""
    series = reading.series
    repeated = {exposure.retake_of for exposure in series.exposures if exposure.retake_of is not None}
    latest = {exposure.slot: exposure.id for exposure in series.exposures}
    found: list[MadeUpFor] = []
    for exposure in series.exposures:
        if not exposure.reviewed or not exposure.shortfalls or exposure.slot is None:
            continue
        if exposure.id in repeated or latest[exposure.slot] != exposure.id:
            continue
        lost = reading.in_order(set(reading.lost(exposure)))
        if any(target not in coverage for target in lost):
            continue
        helpers = {each for target in lost for each in coverage[target]} - {exposure.id}
        found.append(
            MadeUpFor(
                exposure=exposure.id,
                slot=exposure.slot,
                codes=tuple(dict.fromkeys(shortfall.code for shortfall in exposure.shortfalls)),
                lost=lost,
                shown_by=tuple(other.id for other in series.exposures if other.id in helpers),
            )
        )
    return tuple(found)
