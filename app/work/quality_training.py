"""What to practise: for each operator and region the most frequent fault, and how it is corrected."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func
from sqlmodel import col, select

from app.core.exposures import ShortfallCode
from app.core.quality.rates import Rate, rate
from app.exchange.shared_data import technique_errors
from app.storage.practice_scope import PracticeScope
from app.storage.quality_figures import QualityCell
from app.work.actor import Actor
from app.work.quality_figures import titles, whose
from app.work.quality_period import Period


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """The most frequent fault of one operator in one region.

    Parameters
    ----------
    fault : its name
    correction : how it is corrected, with what the region adds
    rate : images that the fault took something from, of the images reviewed there
    """

    operator_id: str
    operator: str
    region: str
    region_title: str
    code: str
    fault: str
    correction: str
    rate: Rate


def lessons(scope: PracticeScope, actor: Actor, period: Period) -> tuple[Lesson, ...]:
    """One lesson for each operator and region with a fault, the most frequent first within an operator.

    Staff see their own; a dentist sees all. Of faults equally frequent the first in the list of codes is named.
    """
    only = whose(actor, "")
    reviewed = {(by, region): number for by, region, number in _sums(scope, period, only, "region", "reviewed")}
    faults: dict[tuple[str, str], tuple[int, ShortfallCode]] = {}
    order = {code.value: place for place, code in enumerate(ShortfallCode)}
    for by, value, count in _sums(scope, period, only, "fault", "non_diagnostic"):
        region, _, code = value.rpartition("|")
        known = faults.get((by, region))
        if count and (known is None or (-count, order[code]) < (-known[0], order[known[1].value])):
            faults[(by, region)] = (count, ShortfallCode(code))
    operators = titles(scope, "operator", {by for by, _ in faults})
    regions = titles(scope, "region", {region for _, region in faults})
    found: list[Lesson] = []
    for (by, region), (count, code) in faults.items():
        error = technique_errors()[code]
        found.append(
            Lesson(
                operator_id=by,
                operator=operators[by],
                region=region,
                region_title=regions[region],
                code=code.value,
                fault=error.name,
                correction=f"{error.correction} {error.regions.get(region, '')}".rstrip(),
                rate=rate(count, reviewed[(by, region)]),
            )
        )
    places = {value: place for place, value in enumerate(operators)}
    return tuple(sorted(found, key=lambda each: (places[each.operator_id], -each.rate.numerator, each.region)))


def _sums(
    scope: PracticeScope, period: Period, operator_id: str, dimension: str, column: str
) -> list[tuple[str, str, int]]:
    query = select(QualityCell.operator_id, QualityCell.value, func.sum(getattr(QualityCell, column))).where(
        QualityCell.practice_id == scope.practice_id,
        QualityCell.grain == "month",
        QualityCell.dimension == dimension,
        col(QualityCell.start).between(period.first, period.last),
    )
    if operator_id:
        query = query.where(QualityCell.operator_id == operator_id)
    rows = scope.session.exec(query.group_by(QualityCell.operator_id, QualityCell.value)).all()
    return [(by, value, int(count)) for by, value, count in rows]
