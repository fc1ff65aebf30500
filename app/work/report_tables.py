"""The tables of a quality report: each figure with its numerator, denominator and interval, as text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from app.core.quality.control_charts import ChartPoint
from app.core.quality.rates import SMALL_DENOMINATOR, Interval, Rate
from app.core.quality.run_rules import RULES
from app.core.quality.targets import VERDICT_WORDS, GradeTarget
from app.reports.quality_report import ReportTable
from app.work.grading_agreement import Agreement
from app.work.quality_comparison import OperatorComparison
from app.work.quality_figures import FigureRow
from app.work.quality_grades import GradeReport
from app.work.quality_trends import Trend
from app.work.radiation import Radiation

NOTHING = "–"


def day_words(day: date) -> str:
    """The day as no country reads it the other way round."""
    return f"{day.day} {day:%b %Y}"


def percent(share: float | None) -> str:
    """A share as per cent with one decimal.

    Examples
    --------
    >>> percent(0.0453), percent(None)
    ('4.5 %', '–')
    """
    return NOTHING if share is None else f"{share * 100:.1f} %"


def span(interval: Interval | None) -> str:
    """An interval of shares in per cent."""
    return NOTHING if interval is None else f"{interval.low * 100:.1f} to {interval.high * 100:.1f} %"


def counted(found: Rate) -> str:
    """Numerator and denominator."""
    return f"{found.numerator} of {found.denominator}"


def rate_words(found: Rate) -> str:
    """A rate in one line.

    Examples
    --------
    >>> rate_words(Rate(numerator=0, denominator=0, interval=None, small=True))
    'none to count from'
    """
    if not found.denominator:
        return "none to count from"
    few = "; small number" if found.small else ""
    return f"{counted(found)}, {percent(found.share)} (95 % interval {span(found.interval)}{few})"


def rate_cells(found: Rate) -> tuple[str, str, str]:
    """A rate as three cells; the last is marked where the number is small."""
    mark = " *" if found.small and found.denominator else ""
    return counted(found), percent(found.share), span(found.interval) + mark


SMALL_NOTE = f"* fewer than {SMALL_DENOMINATOR} to count from: the interval says more than the rate."


def figures_table(caption: str, first: str, rows: Sequence[FigureRow]) -> ReportTable:
    """Retaken and non-diagnostic images by a dimension."""
    return ReportTable(
        caption=caption,
        headings=(first, "Retaken", "Rate", "95 % interval", "Not diagnostic", "Rate", "95 % interval"),
        rows=tuple((row.title, *rate_cells(row.retake), *rate_cells(row.non_diagnostic)) for row in rows),
        numbers=(1, 2, 3, 4, 5, 6),
        note=_small_note(each for row in rows for each in (row.retake, row.non_diagnostic)),
    )


def reasons_table(rows: Sequence[FigureRow]) -> ReportTable:
    """Retaken and non-diagnostic images by their fault, of all images of the period, the most frequent first."""
    ordered = sorted(rows, key=lambda row: (-row.non_diagnostic.numerator, -row.retake.numerator, row.title))
    return figures_table("By reason: the fault, of all images of the period", "Reason", ordered)


def _small_note(rates: Iterable[Rate]) -> str:
    return SMALL_NOTE if any(each.small and each.denominator for each in rates) else ""


def operators_table(found: OperatorComparison, shown_as: Mapping[str, str]) -> ReportTable:
    """Operators, each against what their own views would lead one to expect.

    Parameters
    ----------
    shown_as : name or initials by operator id
    """
    rows = []
    for line in found.lines:
        result = line.result
        ratio = NOTHING if result.ratio is None else f"{result.ratio:.2f}"
        low_high = result.interval
        rows.append(
            (
                shown_as[line.operator_id],
                f"{result.observed} of {result.exposures}",
                percent(line.crude.share),
                f"{result.expected:.1f}",
                ratio,
                NOTHING if low_high is None else f"{low_high.low:.2f} to {low_high.high:.2f}",
                line.words,
            )
        )
    return ReportTable(
        caption="Retaken images by operator, observed against expected",
        headings=("Operator", "Retaken", "Rate", "Expected", "Observed ÷ expected", "95 % interval", "Reading"),
        rows=tuple(rows),
        numbers=(1, 2, 3, 4, 5),
        note="Expected: what the practice's own rates would give for the views that this person took.",
    )


def months_table(found: Trend) -> ReportTable:
    """The months of the control chart."""
    return ReportTable(
        caption="Retaken images by month, with the control limits of each month",
        headings=("Month", "Retaken", "Rate", "Lower limit", "Centre", "Upper limit", "Signal"),
        rows=tuple(
            (
                f"{point.start:%b %Y}",
                f"{point.events} of {point.n}",
                percent(point.chart.value),
                percent(point.chart.lower),
                percent(point.chart.centre),
                percent(point.chart.upper),
                signal_words(point.chart, drifts=point.drift.signal),
            )
            for point in found.points
        ),
        numbers=(1, 2, 3, 4, 5),
    )


def signal_words(point: ChartPoint, *, drifts: bool) -> str:
    """What a month's point signals, in words."""
    told = [RULES[code] for code in point.signals] + (["slow drift (EWMA)"] if drifts else [])
    return "; ".join(told) or "none"


def target_words(target: GradeTarget) -> str:
    """A target as a sentence part."""
    bound = "at least" if target.bound == "at_least" else "at most"
    kind = {"any": "", "digital": ", digital receptors", "film": ", film"}[target.receptors]
    return f"{bound} {target.share * 100:g} %{kind}"


def grades_table(found: GradeReport) -> ReportTable:
    """Each grade with its target and whether it is met."""
    return ReportTable(
        caption="Grades against targets",
        headings=("Grade", "Target", "Images", "Rate", "95 % interval", "Verdict"),
        rows=tuple(
            (
                f"{line.grade}: {line.title}",
                target_words(line.target),
                *rate_cells(line.rate),
                VERDICT_WORDS[line.verdict],
            )
            for line in found.lines
        ),
        numbers=(2, 3, 4),
        note=_small_note(line.rate for line in found.lines),
    )


def agreement_table(found: Agreement) -> ReportTable:
    """The two readings of a sample crossed."""
    codes = [grade.code for grade in found.scheme.grades]
    return ReportTable(
        caption=f"Sample of {day_words(found.sample.from_day)} to {day_words(found.sample.to_day)}: images by "
        "first reading (rows) and second reading (columns)",
        headings=("First reading", *(f"Second: {code}" for code in codes), "All"),
        rows=tuple(
            (f"{grade.code}: {grade.title}", *map(str, row), str(sum(row)))
            for grade, row in zip(found.scheme.grades, found.table, strict=True)
        ),
        numbers=tuple(range(1, len(codes) + 2)),
    )


def radiation_table(found: Radiation) -> ReportTable:
    """Exposures with their estimated dose."""
    return ReportTable(
        caption="Exposures and estimated effective dose",
        headings=("Receptor", "Collimation", "Exposures", "Repeats", "One exposure", "All", "Repeats"),
        rows=tuple(
            (
                line.receptor,
                line.collimation,
                str(line.exposures),
                str(line.repeats),
                line.one.words(),
                line.every.words(),
                line.again.words(),
            )
            for line in found.lines
        ),
        numbers=(2, 3, 4, 5, 6),
    )
