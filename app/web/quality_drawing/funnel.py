"""The funnel plot: each point against the limits that chance alone would keep it within."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from app.web.quality_drawing.markup import CHARACTER, Shape, limit_line, mark, picture, shortened, words
from app.web.quality_drawing.scale import Scale, Unit, flat_axis, scale_over, shown_value, value_axis

_WIDTH, _HEIGHT = 960.0, 480.0
_LEFT, _RIGHT = 90.0, 860.0
_TOP, _BOTTOM = 50.0, 390.0


@dataclass(frozen=True, kw_only=True)
class FunnelPoint:
    """One person or group.

    Parameters
    ----------
    size : place along the lying axis: exposures, or the number expected
    value : the rate or ratio
    zone : "inside", "beyond_95" or "beyond_998"
    """

    name: str
    size: float
    value: float
    zone: str


@dataclass(frozen=True, kw_only=True)
class FunnelLimits:
    """The limits at one place of the lying axis."""

    size: float
    low_998: float
    low_95: float
    high_95: float
    high_998: float


SHAPE_OF_ZONE: dict[str, Shape] = {"inside": "dot", "beyond_95": "triangle", "beyond_998": "diamond"}
ZONE_WORDS = {
    "inside": "within the limits",
    "beyond_95": "between the 95 % and the 99.8 % limit",
    "beyond_998": "beyond the 99.8 % limit",
}


def funnel_plot(
    key: str,
    title: str,
    points: Sequence[FunnelPoint],
    limits: Sequence[FunnelLimits],
    *,
    centre: float,
    value_axis_title: str,
    size_axis_title: str,
    unit: Unit = "ratio",
) -> Markup:
    """Draw the points, the middle, and the limits of 95 % and 99.8 % as curves.

    Parameters
    ----------
    limits : ordered by ``size``, dense enough that straight lines between them look smooth
    centre : the value that everybody would have were there chance alone
    """
    widest = max([point.size for point in points] + [each.size for each in limits], default=1.0)
    sizes = scale_over([0.0, widest], _LEFT, _RIGHT, most=8)
    top_of_points = max([point.value for point in points], default=centre)
    outer = [each.high_998 for each in limits[len(limits) // 3 :]]
    ceiling = max([top_of_points, 2.5 * centre, 1e-9, *outer])
    values = scale_over([ceiling], _BOTTOM, _TOP)
    parts = [
        *value_axis(values, unit, value_axis_title, _LEFT, _RIGHT),
        *flat_axis(sizes, "count" if widest >= 5 else "number", size_axis_title, _BOTTOM, _BOTTOM),
        limit_line([(_LEFT, values.at(centre)), (_RIGHT, values.at(centre))], "centre"),
    ]
    parts.extend(_curves(limits, sizes, values))
    parts.extend(_names(points, sizes, values))
    parts.extend(_legend())
    return picture(key, title, _told(points, centre, unit), _WIDTH, _HEIGHT, *parts)


def _curves(limits: Sequence[FunnelLimits], sizes: Scale, values: Scale) -> list[Markup]:
    drawn = []
    for name in ("low_998", "low_95", "high_95", "high_998"):
        inside = [
            (sizes.at(each.size), values.at(getattr(each, name)))
            for each in limits
            if getattr(each, name) <= values.high
        ]
        if len(inside) > 1:
            drawn.append(limit_line(inside, "limit" if name.endswith("998") else "warning"))
    if limits:
        last = limits[-1]
        x = sizes.at(last.size) + 6
        drawn.append(words("95 %", x, values.at(last.high_95) + 5, size=13))
        if values.at(last.high_95) - values.at(last.high_998) > 13:
            drawn.append(words("99.8 %", x, values.at(last.high_998) + 3, size=13))
    return drawn


def _names(points: Sequence[FunnelPoint], sizes: Scale, values: Scale) -> list[Markup]:
    """The points, each with its name beside it; a name that would lie on another moves down."""
    drawn: list[Markup] = []
    taken: list[tuple[float, float, float]] = []
    for point in sorted(points, key=lambda each: (-each.value, each.name)):
        x, y = sizes.at(point.size), values.at(point.value)
        name = shortened(point.name, 180, 14)
        width = len(name) * 14 * CHARACTER
        left = x - width - 12 if x + width + 12 > _RIGHT else x + 12
        line = y + 5
        right = left + width
        while any(abs(line - other) < 16 and left < end and start < right for other, start, end in taken):
            line += 16
        taken.append((line, left, right))
        note = f"{point.name}: {ZONE_WORDS[point.zone]}"
        drawn.append(mark(SHAPE_OF_ZONE[point.zone], x, y, note=note, kind=f"q-zone-{point.zone}"))
        drawn.append(words(name, left, line, size=14, kind="q-name"))
    return drawn


def _legend() -> list[Markup]:
    drawn = []
    x = _LEFT
    for zone, shape in SHAPE_OF_ZONE.items():
        drawn.append(mark(shape, x + 6, _HEIGHT - 16, kind=f"q-zone-{zone}"))
        drawn.append(words(ZONE_WORDS[zone], x + 20, _HEIGHT - 11, size=14))
        x += 60 + len(ZONE_WORDS[zone]) * 14 * 0.5
    return drawn


def _told(points: Sequence[FunnelPoint], centre: float, unit: Unit) -> str:
    beyond = [point.name for point in points if point.zone != "inside"]
    told = (
        f"The whole line is the middle, {shown_value(centre, unit)}; the broken curves are the limits of 95 %, "
        "the dotted ones of 99.8 %. They narrow with the number of exposures. "
    )
    if beyond:
        told += f"Beyond the 95 % limit: {', '.join(beyond)}. "
    elif points:
        told += "Every point lies within the 95 % limits. "
    return told + "The table below has every number."
