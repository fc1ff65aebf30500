"""Series of periods as charts with their tables: values with limits, and the smoothed course."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

from app.core.quality.control_charts import ChartPoint
from app.core.quality.drift import EwmaPoint
from app.core.quality.run_rules import RULES
from app.web.formatting import MONTHS, shown_date
from app.web.pages.quality_tables import Cell, Column, DataTable, Figure
from app.web.quality_drawing.over_time import TimeLine, TimeNote, TimePoint, time_chart
from app.web.quality_drawing.scale import Unit, shown_value
from app.work.quality_record import Note

RULE_NUMBERS = {code: str(number) for number, code in enumerate(RULES, start=1)}
"""The number that stands above a point which breaks the rule."""

RULE_WORDS = [(RULE_NUMBERS[code], sentence[0].upper() + sentence[1:]) for code, sentence in RULES.items()]


@dataclass(frozen=True, kw_only=True)
class PeriodPoint:
    """One period as the charts need it.

    Parameters
    ----------
    start : first day
    counted : what was counted or measured, in words
    cells : counted for the table: text, values and link
    """

    start: date
    counted: str
    cells: tuple[Cell, ...]
    chart: ChartPoint
    drift: EwmaPoint


@dataclass(frozen=True, kw_only=True)
class PeriodSeries:
    """A course over periods.

    Parameters
    ----------
    key : unique on the page
    title : what the course is of
    measured : the upright axis, with its unit
    counted : headings of the cells of each point
    csv : address of a table by its key
    """

    key: str
    title: str
    grain: str
    measured: str
    unit: Unit
    counted: tuple[Column, ...]
    points: Sequence[PeriodPoint]
    notes: Sequence[Note]
    csv: dict[str, str]
    from_zero: bool = True


def end_of(start: date, grain: str) -> date:
    """The last day of a period."""
    if grain == "week":
        return start + timedelta(days=6)
    following = date(start.year + start.month // 12, start.month % 12 + 1, 1)
    return following - timedelta(days=1)


def period_name(start: date, grain: str) -> str:
    """The period in words that stay on one line."""
    name = f"{MONTHS[start.month - 1]} {start.year}" if grain == "month" else f"week of {shown_date(start)}"
    return name.replace(" ", "\u00a0")


def sentence(text: str) -> str:
    """The text with a capital at its beginning."""
    return f"{text[:1].upper()}{text[1:]}"


def limits_figure(series: PeriodSeries) -> Figure:
    """Every period with its limits, and the run rules that its values break."""
    points = [
        TimePoint(
            start=point.start,
            end=end_of(point.start, series.grain),
            value=point.chart.value,
            note=f"{period_name(point.start, series.grain)}: {point.counted}",
            rules=", ".join(RULE_NUMBERS[code] for code in point.chart.signals),
        )
        for point in series.points
    ]
    last = series.points[-1].chart.centre if series.points else None
    named = "" if last is None else f" {shown_value(last, series.unit)}"
    lines = [
        TimeLine(name=f"centre{named}", kind="centre", values=[each.chart.centre for each in series.points]),
        TimeLine(name="upper limit", kind="limit", values=[each.chart.upper for each in series.points]),
        TimeLine(name="lower limit", kind="limit", values=[lowest(each.chart.lower) for each in series.points]),
    ]
    return Figure(drawing=_drawn(series, "limits", series.title, points, lines), table=_limits_table(series))


def drift_figure(series: PeriodSeries) -> Figure:
    """The smoothed course: each point weighs its period with all before it, so that a slow drift adds up."""
    title = f"{series.title}, smoothed"
    points = [
        TimePoint(
            start=point.start,
            end=end_of(point.start, series.grain),
            value=point.drift.ewma if drifted(point) else None,
            note=period_name(point.start, series.grain),
            rules="drift" if point.drift.signal and drifted(point) else "",
        )
        for point in series.points
    ]
    lines = [
        TimeLine(name="centre", kind="centre", values=[each.chart.centre for each in series.points]),
        TimeLine(
            name="upper drift limit",
            kind="warning",
            values=[each.drift.upper if drifted(each) else None for each in series.points],
        ),
        TimeLine(
            name="lower drift limit",
            kind="warning",
            values=[lowest(each.drift.lower) if drifted(each) else None for each in series.points],
        ),
    ]
    return Figure(drawing=_drawn(series, "drift", title, points, lines), table=_drift_table(series))


def _drawn(series: PeriodSeries, part: str, title: str, points: list[TimePoint], lines: list[TimeLine]) -> Markup:
    return time_chart(
        f"{series.key}-{part}",
        title,
        points,
        lines,
        value_title=series.measured,
        unit=series.unit,
        notes=[TimeNote(on=note.day, text=note.text) for note in series.notes],
        from_zero=series.from_zero,
    )


def value_cell(value: float | None, unit: Unit) -> Cell:
    """A value as the charts write it; the file holds it in full."""
    return Cell("–" if value is None else shown_value(value, unit), (value,))


def lowest(limit: float | None) -> float | None:
    """A lower limit as it is shown: nothing counted or measured here can lie below none."""
    return None if limit is None else max(0.0, limit)


def drifted(point: PeriodPoint) -> EwmaPoint | None:
    """The smoothed value of a period; None where nothing was counted, for it then only repeats the one before."""
    return None if point.chart.value is None else point.drift


def _limits_table(series: PeriodSeries) -> DataTable:
    unit = series.unit
    rows = [
        (
            Cell(period_name(point.start, series.grain), (point.start,)),
            *point.cells,
            value_cell(point.chart.value, unit),
            value_cell(lowest(point.chart.lower), unit),
            value_cell(point.chart.centre, unit),
            value_cell(point.chart.upper, unit),
            signals_cell(point.chart.signals),
        )
        for point in series.points
    ]
    columns = (
        Column("Period", files=("First day",)),
        *series.counted,
        Column("Value", True),
        Column("Lower limit", True),
        Column("Centre", True),
        Column("Upper limit", True),
        Column("Signals"),
    )
    return DataTable(
        key=f"{series.key}-limits",
        caption=series.title,
        columns=columns,
        rows=rows,
        empty="Nothing was counted in this period. Choose a longer one above.",
        csv=series.csv.get(f"{series.key}-limits", ""),
    )


def signals_cell(signals: Sequence[str]) -> Cell:
    """The rules that a period breaks, by number and in words."""
    told = "; ".join(f"{RULE_NUMBERS[code]}: {RULES[code]}" for code in signals)
    return Cell(told or "none", (told,))


def _drift_table(series: PeriodSeries) -> DataTable:
    unit = series.unit
    rows = []
    for point in series.points:
        drift = drifted(point)
        signal = "drift" if drift is not None and drift.signal else ""
        rows.append(
            (
                Cell(period_name(point.start, series.grain), (point.start,)),
                value_cell(lowest(drift.lower) if drift else None, unit),
                value_cell(drift.ewma if drift else None, unit),
                value_cell(drift.upper if drift else None, unit),
                Cell(signal or "none", (signal,)),
            )
        )
    columns = (
        Column("Period", files=("First day",)),
        Column("Lower drift limit", True),
        Column("Smoothed value", True),
        Column("Upper drift limit", True),
        Column("Signal"),
    )
    return DataTable(
        key=f"{series.key}-drift",
        caption=f"{series.title}, smoothed",
        columns=columns,
        rows=rows,
        empty="Nothing was counted in this period. Choose a longer one above.",
        csv=series.csv.get(f"{series.key}-drift", ""),
    )
