"""From values and days to pixels, and the ticks of an axis."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from markupsafe import Markup

from app.web.formatting import MONTHS, shown_date
from app.web.quality_drawing.markup import stroke, words

Unit = Literal["share", "count", "ratio", "number"]


def shown_value(value: float, unit: Unit, step: float = 0.0) -> str:
    """A value as an axis writes it.

    Parameters
    ----------
    unit : a share (0 to 1) is written in per cent
    step : distance between ticks in the unit of ``value``, which decides the decimals; 0 where it stands alone: a
        share then has one decimal, a ratio two, another number three digits that count

    Examples
    --------
    >>> shown_value(0.05, "share", 0.05), shown_value(0.0731, "share"), shown_value(1200, "count", 200)
    ('5 %', '7.3 %', '1\\u202f200')
    >>> shown_value(0.00321, "number"), shown_value(1.0, "ratio"), shown_value(0.025, "share", 0.025)
    ('0.00321', '1.00', '2.5 %')
    """
    if unit == "share":
        value, step = 100 * value, 100 * step
    if step > 0:
        places = max(0, -math.floor(math.log10(step) + 1e-9))
        # A step of 2.5 needs one more, or its ticks would not be written where they stand.
        places += abs(step * 10**places - round(step * 10**places)) > 1e-6
    elif unit == "number" and value:
        places = max(0, 2 - math.floor(math.log10(abs(value))))
    else:
        places = 2 if unit == "ratio" else 1
    if unit == "count":
        places = 0
    text = f"{value:,.{places}f}".replace(",", "\u202f").replace("-", "\u2212")
    return f"{text} %" if unit == "share" else text


@dataclass(frozen=True)
class Scale:
    """Values from ``low`` to ``high`` laid between two pixels; ``step`` is the distance of its ticks."""

    low: float
    high: float
    start: float
    end: float
    step: float

    def at(self, value: float) -> float:
        """Where a value stands, pixels; values beyond the ends stand at the ends."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[float]:
        """The values that the axis writes."""
        count = round((self.high - self.low) / self.step)
        return [self.low + index * self.step for index in range(count + 1)]


def scale_over(
    values: Iterable[float],
    start: float,
    end: float,
    *,
    from_zero: bool = True,
    whole: bool = False,
    most: int = 6,
) -> Scale:
    """A scale with round ticks that holds all values.

    Parameters
    ----------
    start, end : pixels
    from_zero : whether the scale begins at 0, as shares and counts do
    whole : whether ticks must be whole numbers
    most : about how many ticks at most
    """
    known = [value for value in values if math.isfinite(value)]
    low = 0.0 if from_zero else min(known, default=0.0)
    high = max(known, default=1.0)
    if high <= low:
        spread = abs(low) * 0.1 or 1.0
        low, high = (low if from_zero else low - spread), high + spread
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(each * power for each in (1, 2, 2.5, 5, 10) if each * power >= rough * (1 - 1e-9))
    if whole:
        step = max(1.0, float(math.ceil(step)))
    first = math.floor(low / step + 1e-9) * step
    last = math.ceil(high / step - 1e-9) * step
    return Scale(first, max(last, first + step), start, end, step)


@dataclass(frozen=True)
class DayScale:
    """Days laid between two pixels."""

    first: date
    last: date
    start: float
    end: float

    def at(self, day: date) -> float:
        """Where a day stands, pixels."""
        span = max(1, (self.last - self.first).days)
        share = min(max((day - self.first).days / span, 0.0), 1.0)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[tuple[date, str]]:
        """Days that the axis writes, with their words: first of months, or Mondays within two months."""
        days = (self.last - self.first).days
        if days <= 62:
            every = max(1, math.ceil(days / 7 / 8))
            monday = self.first + timedelta(days=-self.first.weekday() % 7)
            weeks = [monday + timedelta(weeks=index) for index in range(0, days // 7 + 1, every)]
            return [(day, f"{day.day} {MONTHS[day.month - 1]}") for day in weeks if day <= self.last]
        months = days / 30.4
        every = next((each for each in (1, 2, 3, 6, 12, 24, 60) if months / each <= 9), 120)
        found: list[tuple[date, str]] = []
        index = self.first.year * 12 + self.first.month - 1
        index += -index % every
        while (day := date(index // 12, index % 12 + 1, 1)) <= self.last:
            if day >= self.first:
                found.append((day, f"{MONTHS[day.month - 1]} {day.year}"))
            index += every
        return found


def value_axis(
    scale: Scale, unit: Unit, title: str, left: float, right: float, *, above: float = 18
) -> list[Markup]:
    """The upright axis at ``left`` with a faint line across for each tick, its title above it."""
    top = min(scale.start, scale.end)
    drawn = [words(title, 8, top - above, size=15, bold=True)]
    for value in scale.ticks():
        y = scale.at(value)
        drawn.append(stroke(left, y, right, y, kind="q-grid", width=0.4))
        drawn.append(stroke(left - 7, y, left, y, kind="q-tick", width=2))
        drawn.append(words(shown_value(value, unit, scale.step), left - 12, y + 5, anchor="end"))
    drawn.append(stroke(left, top, left, max(scale.start, scale.end), width=2))
    return drawn


def flat_axis(scale: Scale, unit: Unit, title: str, y: float, top: float) -> list[Markup]:
    """The lying axis at height ``y``, its ticks reaching up to ``top`` as faint lines, its title beneath."""
    drawn = []
    for value in scale.ticks():
        x = scale.at(value)
        drawn.append(stroke(x, y, x, top, kind="q-grid", width=0.4))
        drawn.append(stroke(x, y, x, y + 7, kind="q-tick", width=2))
        drawn.append(words(shown_value(value, unit, scale.step), x, y + 24, anchor="middle"))
    drawn.append(stroke(scale.start, y, scale.end, y, width=2))
    drawn.append(words(title, (scale.start + scale.end) / 2, y + 46, anchor="middle", bold=True))
    return drawn


def day_axis(scale: DayScale, title: str, y: float) -> list[Markup]:
    """The axis of days at height ``y``."""
    drawn = [stroke(scale.start, y, scale.end, y, width=2)]
    for day, text in scale.ticks() or [(scale.first, shown_date(scale.first))]:
        x = scale.at(day)
        drawn.append(stroke(x, y, x, y + 7, kind="q-tick", width=2))
        drawn.append(words(text, x, y + 24, anchor="middle"))
    drawn.append(words(title, (scale.start + scale.end) / 2, y + 46, anchor="middle", bold=True))
    return drawn
