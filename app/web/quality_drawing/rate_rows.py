"""Rates side by side: a row for each, its point and the interval around it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from app.web.quality_drawing.markup import (
    DASHES,
    INK,
    element,
    limit_line,
    mark,
    picture,
    shortened,
    stroke,
    words,
)
from app.web.quality_drawing.scale import flat_axis, scale_over, shown_value

_WIDTH = 960.0
_LEFT, _RIGHT = 310.0, 740.0
_ROW = 32.0
_TOP = 40.0


@dataclass(frozen=True, kw_only=True)
class RateRow:
    """One rate.

    Parameters
    ----------
    name : what it is of
    count, total : images counted, out of how many
    low, high : interval, shares 0 to 1; None where nothing was counted
    few : whether the number is small, so that the interval says more than the point
    """

    name: str
    count: int
    total: int
    low: float | None
    high: float | None
    few: bool = False

    @property
    def share(self) -> float | None:
        """The rate, 0 to 1; None without anything to count from."""
        return self.count / self.total if self.total else None


def rate_rows(
    key: str,
    title: str,
    rows: Sequence[RateRow],
    *,
    axis: str,
    reference: float | None = None,
    reference_name: str = "all together",
) -> Markup:
    """Draw the rows beneath each other on one scale.

    Parameters
    ----------
    axis : what the lying axis measures, like "retakes of 100 exposures"
    reference : a share that a broken upright line marks, like the rate of all together
    """
    bottom = _TOP + max(1, len(rows)) * _ROW
    values = [value for row in rows for value in (row.share, row.high) if value is not None]
    scale = scale_over([*values, *([] if reference is None else [reference])] or [0.1], _LEFT, _RIGHT)
    parts = flat_axis(scale, "share", axis, bottom, _TOP)
    if reference is not None:
        x = scale.at(reference)
        parts.append(limit_line([(x, _TOP - 8), (x, bottom)], "reference"))
        near_end = x > _RIGHT - 120
        text = f"{reference_name}: {shown_value(reference, 'share')}"
        parts.append(words(text, x, _TOP - 16, anchor="end" if near_end else "middle", size=14))
    for index, row in enumerate(rows):
        parts.extend(_row(row, scale.at, _TOP + (index + 0.5) * _ROW))
    return picture(key, title, _told(rows, reference, reference_name), _WIDTH, bottom + 60, *parts)


def _row(row: RateRow, at: Callable[[float], float], y: float) -> list[Markup]:
    note = f"{row.name}: {row.count} of {row.total}"
    drawn = [words(shortened(row.name, _LEFT - 20), _LEFT - 14, y + 5, anchor="end")]
    if row.share is None or row.low is None or row.high is None:
        return [*drawn, words("nothing to count", _RIGHT + 14, y + 5, kind="q-soft")]
    dash = DASHES["warning"] if row.few else None
    drawn.append(
        element(
            "line",
            x1=at(row.low),
            x2=at(row.high),
            y1=y,
            y2=y,
            class_="q-whisker",
            stroke=INK,
            stroke_width=2.5,
            stroke_dasharray=dash,
        )
    )
    drawn.extend(
        stroke(at(end), y - 6, at(end), y + 6, kind="q-whisker", width=2.5) for end in (row.low, row.high)
    )
    drawn.append(mark("ring" if row.few else "dot", at(row.share), y, note=note))
    few = ", few" if row.few else ""
    text = f"{row.count} of {row.total} ({shown_value(row.share, 'share')}{few})"
    return [*drawn, words(text, _RIGHT + 14, y + 5)]


def _told(rows: Sequence[RateRow], reference: float | None, reference_name: str) -> str:
    """The drawing in sentences."""
    told = ["Each row has a point for the rate and a line for its 95 % interval."]
    if any(row.few for row in rows):
        told.append("A hollow point with a broken line stands on few exposures.")
    if reference is not None:
        told.append(f"The upright line marks {reference_name}, {shown_value(reference, 'share')}.")
    counted = [row for row in rows if row.share is not None]
    if counted:
        most = max(counted, key=lambda row: row.share or 0.0)
        told.append(f"The highest point is {most.name}, {most.count} of {most.total}.")
    told.append("The table below has every number.")
    return " ".join(told)
