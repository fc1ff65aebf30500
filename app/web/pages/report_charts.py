"""The charts of a quality report, drawn as on the pages of the review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from app.core.quality.run_rules import RULES
from app.reports.quality_report import ReportChart
from app.web.pages.quality_comparison import drawn as funnel
from app.web.pages.quality_figures import as_rate_row
from app.web.pages.quality_time_figures import RULE_NUMBERS, end_of, period_name
from app.web.quality_drawing.over_time import TimeLine, TimeNote, TimePoint, time_chart
from app.web.quality_drawing.rate_rows import rate_rows
from app.work.report_figures import ReportFigures

MOST_ROWS = 16
"""Rows of one chart at most: more would not stay on a page. The table beneath has them all."""


def report_charts(figures: ReportFigures, shown_as: Mapping[str, str]) -> dict[str, Sequence[ReportChart]]:
    """The charts by the section that they stand in.

    Parameters
    ----------
    shown_as : how each operator is named, by id
    """
    return {
        "rates": (_regions(figures),),
        "over-time": (_months(figures),),
        "operators": (_operators(figures, shown_as),),
    }


def _regions(figures: ReportFigures) -> ReportChart:
    rows = sorted(figures.by["region"], key=lambda row: -row.exposures)[:MOST_ROWS]
    whole = figures.overview.whole.retake
    left_out = len(figures.by["region"]) - len(rows)
    told = (
        "Each row is a region: the point its rate, the line its 95 % interval, the upright line the whole period."
    )
    return ReportChart(
        caption="Images retaken, by region",
        svg=str(
            rate_rows(
                "report-regions",
                f"Images retaken by region, {figures.period.text}",
                [as_rate_row(row, "retaken") for row in rows],
                axis="Images retaken (%)",
                reference=whole.share,
            )
        ),
        told=told + (f" {left_out} regions with fewer exposures stand in the table only." if left_out else ""),
    )


def _months(figures: ReportFigures) -> ReportChart:
    points = [
        TimePoint(
            start=point.start,
            end=end_of(point.start, figures.trend.grain),
            value=point.chart.value,
            note=f"{period_name(point.start, figures.trend.grain)}: {point.events} of {point.n}",
            rules=", ".join(RULE_NUMBERS[code] for code in point.chart.signals),
        )
        for point in figures.trend.points
    ]
    charts = [point.chart for point in figures.trend.points]
    lines = [
        TimeLine(name="centre", kind="centre", values=[each.centre for each in charts]),
        TimeLine(name="upper limit", kind="limit", values=[each.upper for each in charts]),
        TimeLine(name="lower limit", kind="limit", values=[each.lower for each in charts]),
    ]
    rules = "; ".join(f"{number}: {RULES[code]}" for code, number in RULE_NUMBERS.items())
    return ReportChart(
        caption="Images retaken, month by month",
        svg=str(
            time_chart(
                "report-months",
                f"Images retaken by month, {figures.period.text}",
                points,
                lines,
                value_title="Images retaken (%)",
                unit="share",
                notes=[TimeNote(on=note.day, text=note.text) for note in figures.notes],
            )
        ),
        told=f"A number above a point names the rule that it breaks. {rules}.",
    )


def _operators(figures: ReportFigures, shown_as: Mapping[str, str]) -> ReportChart:
    lines = tuple(replace(line, name=shown_as[line.operator_id]) for line in figures.comparison.lines)
    return ReportChart(
        caption="Operators against what their own views lead one to expect",
        svg=str(funnel(replace(figures.comparison, lines=lines))),
        told="Within the inner limits (95 %) a difference is what chance alone brings about; beyond the outer "
        "ones (99.8 %) it hardly ever is.",
    )
