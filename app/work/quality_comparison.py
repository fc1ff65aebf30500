"""Operators compared fairly: what was observed against what their own mix of views would have brought.

The standard is the practice's own rate of each view (template and slot) in the period. The words are for training:
they say what the numbers allow, and never that somebody is good or bad.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sqlalchemy import func
from sqlmodel import col, select

from app.core.quality.comparison import ObservedExpected, Tally, funnel_limits, observed_against_expected
from app.core.quality.rates import Rate, rate
from app.storage.practice_scope import PracticeScope
from app.storage.quality_figures import QualityCell
from app.work.actor import Actor
from app.work.quality_figures import titles, whose
from app.work.quality_period import Period, checked_choice

OUTCOMES: dict[str, str] = {
    "retaken": "images retaken, of exposures",
    "non_diagnostic": "non-diagnostic images, of those reviewed",
}
"""What operators are compared on."""

_OF = {"retaken": "exposures", "non_diagnostic": "reviewed"}

Place = Literal["inside", "beyond_95", "beyond_998"]
FEW_EXPECTED = 5.0
"""Below this many expected events a ratio says next to nothing (common practice, no source)."""
CURVE_POINTS = 60


@dataclass(frozen=True, kw_only=True)
class OperatorLine:
    """One operator against what was to be expected.

    Parameters
    ----------
    crude : the plain rate, which does not take the views into account
    place : in the funnel: inside both limits, beyond the 95 % one, or beyond the 99.8 % one
    direction : lower or higher than expected; empty inside
    words : the same in a sentence
    small : fewer than five events were to be expected
    """

    operator_id: str
    name: str
    result: ObservedExpected
    crude: Rate
    place: Place
    direction: Literal["", "lower", "higher"]
    words: str
    small: bool


@dataclass(frozen=True, kw_only=True)
class FunnelCurve:
    """The limits of observed / expected along the number expected, for drawing."""

    expected: tuple[float, ...]
    low95: tuple[float, ...]
    high95: tuple[float, ...]
    low998: tuple[float, ...]
    high998: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class OperatorComparison:
    """Every operator whom the person may see, and the funnel they stand in."""

    period: Period
    outcome: str
    standard: Rate
    lines: tuple[OperatorLine, ...]
    curve: FunnelCurve


def compare_operators(
    scope: PracticeScope, actor: Actor, period: Period, outcome: str = "retaken"
) -> OperatorComparison:
    """Operators by indirect standardisation over template and slot.

    An assistant sees their own line, against the same standard; a dentist sees all.

    Raises
    ------
    InputError
        At ``outcome``.
    """
    only = whose(actor, "")
    checked_choice(outcome, OUTCOMES, "outcome")
    own: dict[str, dict[str, Tally]] = {}
    standard: dict[str, Tally] = {}
    for operator_id, stratum, tally in _tallies(scope, period, outcome):
        own.setdefault(operator_id, {})[stratum] = tally
        standard[stratum] = standard[stratum] + tally if stratum in standard else tally
    names = titles(scope, "operator", own)
    lines = tuple(
        _line(operator_id, name, own[operator_id], standard)
        for operator_id, name in names.items()
        if only in ("", operator_id)
    )
    return OperatorComparison(
        period=period,
        outcome=outcome,
        standard=rate(
            sum(tally.events for tally in standard.values()), sum(tally.exposures for tally in standard.values())
        ),
        lines=lines,
        curve=_curve(max((line.result.expected for line in lines), default=0.0)),
    )


def _tallies(scope: PracticeScope, period: Period, outcome: str) -> list[tuple[str, str, Tally]]:
    events, of = getattr(QualityCell, outcome), getattr(QualityCell, _OF[outcome])
    query = (
        select(QualityCell.operator_id, QualityCell.value, func.sum(events), func.sum(of))
        .where(
            QualityCell.practice_id == scope.practice_id,
            QualityCell.grain == "month",
            QualityCell.dimension == "slot",
            col(QualityCell.start).between(period.first, period.last),
        )
        .group_by(QualityCell.operator_id, QualityCell.value)
    )
    return [
        (operator_id, value, Tally(events=int(count), exposures=int(number)))
        for operator_id, value, count, number in scope.session.exec(query).all()
        if number
    ]


def _line(operator_id: str, name: str, own: dict[str, Tally], standard: dict[str, Tally]) -> OperatorLine:
    result = observed_against_expected(own, standard)
    place = _place(result)
    direction: Literal["", "lower", "higher"] = ""
    if place != "inside" and result.ratio is not None:
        direction = "higher" if result.ratio > 1 else "lower"
    small = result.expected < FEW_EXPECTED
    return OperatorLine(
        operator_id=operator_id,
        name=name,
        result=result,
        crude=rate(result.observed, result.exposures),
        place=place,
        direction=direction,
        words=_words(place, direction, small),
        small=small,
    )


def _place(result: ObservedExpected) -> Place:
    if result.ratio is None:
        return "inside"
    for confidence, place in ((0.998, "beyond_998"), (0.95, "beyond_95")):
        limits = funnel_limits(result.expected, confidence)
        if limits is not None and not limits.holds(result.ratio):
            return "beyond_998" if place == "beyond_998" else "beyond_95"
    return "inside"


def _words(place: Place, direction: str, small: bool) -> str:
    if place == "inside":
        if small:
            return "Too few to tell: for these views fewer than five were to be expected."
        return "As expected for these views: chance alone explains the difference."
    if direction == "lower":
        if place == "beyond_95":
            return "Somewhat fewer than expected for these views. Chance does this one time in twenty."
        return "Fewer than expected for these views, more than chance explains. Worth asking how it is done."
    if place == "beyond_95":
        return "Somewhat more than expected for these views. Chance does this one time in twenty: watch it."
    return (
        "More than expected for these views, more than chance explains. Look at the faults together and practise."
    )


def _curve(most: float) -> FunnelCurve:
    """The funnel from one expected event to a little beyond the largest."""
    end = max(10.0, most * 1.15)
    # Denser where the limits bend.
    expected = tuple(0.5 * (end / 0.5) ** (step / (CURVE_POINTS - 1)) for step in range(CURVE_POINTS))
    wide = [funnel_limits(each, 0.998) for each in expected]
    narrow = [funnel_limits(each, 0.95) for each in expected]
    return FunnelCurve(
        expected=expected,
        low95=tuple(each.low for each in narrow if each is not None),
        high95=tuple(each.high for each in narrow if each is not None),
        low998=tuple(each.low for each in wide if each is not None),
        high998=tuple(each.high for each in wide if each is not None),
    )
