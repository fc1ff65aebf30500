"""Everything of a period that a quality report tells, gathered once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.storage.practice_scope import PracticeScope
from app.work.actor import DENTISTS, Actor, require
from app.work.grading_agreement import Agreement, agreements_within
from app.work.quality_comparison import OperatorComparison, compare_operators
from app.work.quality_figures import FigureRow, Overview, figures, overview
from app.work.quality_grades import GradeReport, grade_report
from app.work.quality_period import Period
from app.work.quality_record import Note, annotations_in
from app.work.quality_trends import Trend, trend
from app.work.radiation import Radiation, radiation_of

TOLD_BY = ("month", "reason", "region", "receptor", "age_group")
"""The dimensions by which a report tells the rates; operators are compared fairly instead."""


@dataclass(frozen=True, kw_only=True)
class ReportFigures:
    """The figures of a report.

    Parameters
    ----------
    by : rows by dimension
    agreements : samples whose days lie in the period and of which something is read
    notes : what was annotated in the period
    """

    practice: str
    period: Period
    overview: Overview
    by: Mapping[str, tuple[FigureRow, ...]]
    comparison: OperatorComparison
    trend: Trend
    grades: GradeReport
    agreements: list[Agreement]
    radiation: Radiation
    notes: tuple[Note, ...]


def report_figures(scope: PracticeScope, actor: Actor, period: Period) -> ReportFigures:
    """The figures of a period; `quality_refresh.bring_up_to_date` comes first."""
    require(actor, DENTISTS, "make a quality report")
    return ReportFigures(
        practice=scope.practice().name,
        period=period,
        overview=overview(scope, actor, period),
        by={name: figures(scope, actor, period, name) for name in TOLD_BY},
        comparison=compare_operators(scope, actor, period),
        trend=trend(scope, actor, period),
        grades=grade_report(scope, actor, period),
        agreements=agreements_within(scope, actor, period.first, period.last),
        radiation=radiation_of(scope, actor, period),
        notes=annotations_in(scope, actor, period),
    )
