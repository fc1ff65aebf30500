"""The grades of a period under the scheme in force, held against its targets, and their history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from app.core.errors import InputError
from app.core.quality.rates import Rate, rate
from app.core.quality.targets import GradeTarget, GradingScheme, Verdict, verdict
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.work.actor import DENTISTS, Actor, require
from app.work.quality_figures import sums_by
from app.work.quality_period import Period, next_month
from app.work.quality_record import scheme_in_force

_COUNTED_AS: dict[str, Callable[[dict[str, int]], int]] = {
    "A": lambda sums: sums["reviewed"] - sums["non_diagnostic"],
    "N": lambda sums: sums["non_diagnostic"],
    "1": lambda sums: sums["faultless"],
    "2": lambda sums: sums["reviewed"] - sums["faultless"] - sums["non_diagnostic"],
    "3": lambda sums: sums["non_diagnostic"],
}
"""How each grade of the published schemes is counted from the reviews."""


@dataclass(frozen=True, kw_only=True)
class GradeLine:
    """One target, what was reached, and the verdict with its uncertainty."""

    grade: str
    title: str
    target: GradeTarget
    rate: Rate
    verdict: Verdict


@dataclass(frozen=True, kw_only=True)
class GradeReport:
    """The grades of a period.

    Parameters
    ----------
    scheme : in force on the last day of the period; None where the practice chose none
    ungraded : exposures that nobody reviewed: they have no grade
    """

    period: Period
    scheme: GradingScheme | None
    lines: tuple[GradeLine, ...]
    ungraded: int


def grade_report(scope: PracticeScope, actor: Actor, period: Period) -> GradeReport:
    """The practice's grades against the targets of the scheme in force on the period's last day.

    Every exposure reviewed is graded, not a sample. Film and digital receptors have targets of their own; an
    exposure without a receptor counts as digital unless all the practice's receptors are film.
    """
    require(actor, DENTISTS, "see the practice's grades")
    scheme = scheme_in_force(scope, period.last)
    by_receptor = sums_by(scope, period, "receptor")
    kinds = {row.id: row.kind for row in scope.all(scope.select(Receptor))}
    unnamed = "film" if kinds and set(kinds.values()) == {"film"} else "digital"
    ungraded = sum(sums["exposures"] - sums["reviewed"] for sums in by_receptor.values())
    lines: list[GradeLine] = []
    for target in scheme.targets if scheme is not None else ():
        chosen = [
            sums
            for receptor_id, sums in by_receptor.items()
            if target.receptors in ("any", _kind(kinds.get(receptor_id, ""), unnamed))
        ]
        reviewed = sum(sums["reviewed"] for sums in chosen)
        having = sum(_COUNTED_AS[target.grade](sums) for sums in chosen)
        lines.append(
            GradeLine(
                grade=target.grade,
                title=_title(scheme, target.grade),
                target=target,
                rate=rate(having, reviewed),
                verdict=verdict(having, reviewed, target),
            )
        )
    return GradeReport(period=period, scheme=scheme, lines=tuple(lines), ungraded=ungraded)


def _kind(kind: str, unnamed: str) -> str:
    return unnamed if not kind else "film" if kind == "film" else "digital"


def _title(scheme: GradingScheme | None, code: str) -> str:
    return next((grade.title for grade in scheme.grades if grade.code == code), code) if scheme else code


def grade_history(scope: PracticeScope, actor: Actor, period: Period, months: int = 6) -> tuple[GradeReport, ...]:
    """The grades of each half-year (or another number of months) of a period, each under the scheme of its day.

    Parts are counted back from the period's end, so that the last one is whole.
    """
    require(actor, DENTISTS, "see the practice's grades")
    if months < 1:
        raise InputError("months", f"{months} months make no part. Give 1 or more")
    firsts = period.months
    starts = sorted(range(len(firsts) - months, -months, -months))
    parts = [firsts[max(0, start) : start + months] for start in starts]
    return tuple(
        grade_report(scope, actor, Period(first=part[0], last=next_month(part[-1]) - timedelta(days=1)))
        for part in parts
        if part
    )
