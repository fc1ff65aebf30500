"""Charts over time: values with limits that may step from period to period, and what happened when."""

from __future__ import annotations

import string
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

from app.web.formatting import shown_date
from app.web.quality_drawing.markup import INK, LineKind, Shape, element, limit_line, mark, path, picture, words
from app.web.quality_drawing.scale import DayScale, Scale, Unit, day_axis, scale_over, shown_value, value_axis

_WIDTH = 960.0
_LEFT, _RIGHT = 90.0, 800.0
_TOP, _BOTTOM = 76.0, 336.0


@dataclass(frozen=True, kw_only=True)
class TimePoint:
    """One period or one measurement.

    Parameters
    ----------
    start, end : first and last day; the same day for a measurement
    value : None where the period has nothing to count
    rules : numbers of the rules that it breaks, written above it
    few : drawn hollow
    """

    start: date
    end: date
    value: float | None
    note: str = ""
    rules: str = ""
    few: bool = False

    @property
    def middle(self) -> date:
        """The day at which the point stands."""
        return self.start + (self.end - self.start) // 2


@dataclass(frozen=True, kw_only=True)
class TimeLine:
    """A centre line or limit with a value for each point; ``name`` stands at its right end."""

    name: str
    kind: LineKind
    values: Sequence[float | None]


@dataclass(frozen=True, kw_only=True)
class TimeNote:
    """Something that happened, like a new sensor."""

    on: date
    text: str


def time_chart(
    key: str,
    title: str,
    points: Sequence[TimePoint],
    lines: Sequence[TimeLine],
    *,
    value_title: str,
    unit: Unit,
    notes: Sequence[TimeNote] = (),
    from_zero: bool = True,
    day_title: str = "Date taken",
) -> Markup:
    """Draw points joined by a line, limits as steps, and notes as lettered flags explained beneath.

    Parameters
    ----------
    value_title : what the upright axis measures, with its unit
    lines : each with as many values as there are points
    from_zero : whether the upright axis begins at 0
    """
    shown = [value for point in points if (value := point.value) is not None]
    shown += [value for line in lines for value in line.values if value is not None]
    values = scale_over(shown or [1.0], _BOTTOM, _TOP, from_zero=from_zero)
    first = min([point.start for point in points] + [note.on for note in notes], default=date(2026, 1, 1))
    last = max([point.end for point in points] + [note.on for note in notes], default=first)
    days = DayScale(first, max(last, first + timedelta(days=1)), _LEFT, _RIGHT)
    listed = sorted(notes, key=lambda note: note.on)[: len(string.ascii_uppercase)]
    parts = [
        *value_axis(values, unit, value_title, _LEFT, _RIGHT, above=34 if listed else 18),
        *day_axis(days, day_title, _BOTTOM),
        *_flags(listed, days),
    ]
    for line in lines:
        parts.extend(_line(line, points, days, values))
    parts.extend(_end_names(lines, values))
    parts.extend(_points(points, days, values))
    parts.extend(_explained(listed))
    height = _BOTTOM + 64 + 22 * len(listed)
    return picture(key, title, _told(points, lines, listed, unit), _WIDTH, height, *parts)


def _line(line: TimeLine, points: Sequence[TimePoint], days: DayScale, values: Scale) -> list[Markup]:
    """The line as steps, broken where a value is missing."""
    runs: list[list[tuple[float, float]]] = [[]]
    for index, (point, value) in enumerate(zip(points, line.values, strict=True)):
        if value is None:
            runs.append([])
            continue
        left = days.at(point.start)
        following = points[index + 1].start if index + 1 < len(points) else point.end
        right = max(days.at(following), left)
        y = values.at(value)
        runs[-1].extend([(left, y), (right, y)])
    return [limit_line(run, line.kind) for run in runs if run]


def _end_names(lines: Sequence[TimeLine], values: Scale) -> list[Markup]:
    """The names of the lines at their right ends, pushed apart where they would lie on each other."""
    ends = []
    for line in lines:
        known = [value for value in line.values if value is not None]
        if known and line.name:
            ends.append((values.at(known[-1]), line.name))
    drawn, above = [], -100.0
    for y, name in sorted(ends):
        above = max(y + 5, above + 16)
        drawn.append(words(name, _RIGHT + 10, above, size=14, kind="q-end"))
    return drawn


def _points(points: Sequence[TimePoint], days: DayScale, values: Scale) -> list[Markup]:
    places = [
        (point, days.at(point.middle), values.at(point.value)) for point in points if point.value is not None
    ]
    if not places:
        return [words("Nothing was counted in this period.", (_LEFT + _RIGHT) / 2, 200, anchor="middle")]
    radius = 5.5 if len(places) <= 60 else 3.5 if len(places) <= 200 else 2.2
    drawn = []
    if len(places) > 1:
        drawn.append(path(((x, y) for _, x, y in places), class_="q-run", stroke=INK, stroke_width=1.5))
    for point, x, y in places:
        shape: Shape = "diamond" if point.rules else "ring" if point.few else "dot"
        kind = "q-signal" if point.rules else ""
        size = max(radius, 5.0) if point.rules else radius
        drawn.append(mark(shape, x, y, radius=size, note=point.note, kind=kind))
        if point.rules:
            drawn.append(words(point.rules, x, y - 12, size=13, anchor="middle", bold=True, kind="q-rule"))
    return drawn


def _flags(notes: Sequence[TimeNote], days: DayScale) -> list[Markup]:
    drawn = []
    reached = -100.0
    for letter, note in zip(string.ascii_uppercase, notes, strict=False):
        x = days.at(note.on)
        flag = max(x, reached + 20)
        reached = flag
        drawn.append(
            element(
                "line",
                x1=x,
                x2=x,
                y1=_TOP - 4,
                y2=_BOTTOM,
                class_="q-flag-line",
                stroke=INK,
                stroke_width=1.2,
                stroke_dasharray="1 4",
            )
        )
        drawn.append(
            element(
                "rect",
                x=flag - 9,
                y=_TOP - 24,
                width=18,
                height=20,
                rx=5,
                class_="q-flag",
                fill="#fff",
                stroke=INK,
                stroke_width=1.5,
            )
        )
        drawn.append(words(letter, flag, _TOP - 9, size=14, anchor="middle", bold=True, kind="q-flag-letter"))
    return drawn


def _explained(notes: Sequence[TimeNote]) -> list[Markup]:
    return [
        words(f"{letter}  {shown_date(note.on)}: {note.text}"[:130], _LEFT, _BOTTOM + 72 + 22 * index, size=14)
        for index, (letter, note) in enumerate(zip(string.ascii_uppercase, notes, strict=False))
    ]


def _told(points: Sequence[TimePoint], lines: Sequence[TimeLine], notes: Sequence[TimeNote], unit: Unit) -> str:
    counted = [point for point in points if point.value is not None]
    if not counted:
        return "Nothing was counted in this period."
    newest = counted[-1]
    told = [f"{len(counted)} points, the last {shown_value(newest.value or 0.0, unit)}."]
    signals = [point for point in counted if point.rules]
    if signals:
        days = ", ".join(f"{shown_date(point.start)} (rule {point.rules})" for point in signals[:6])
        more = f" and {len(signals) - 6} more" if len(signals) > 6 else ""
        told.append(f"Diamonds mark signals: {days}{more}.")
    else:
        told.append("No point gives a signal.")
    told.extend(f"{shown_date(note.on)}: {note.text}." for note in notes)
    if lines:
        told.append(f"Lines: {', '.join(line.name for line in lines if line.name)}.")
    told.append("The table below has every number.")
    return " ".join(told)
