"""A course at a glance, as small as a word."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from app.web.quality_drawing.markup import INK, mark, path, picture
from app.web.quality_drawing.scale import Unit, scale_over, shown_value

_WIDTH, _HEIGHT = 150.0, 40.0


def sparkline(key: str, title: str, values: Sequence[float | None], *, unit: Unit = "share") -> Markup:
    """Draw the values from the oldest to the newest; the newest has a point.

    Parameters
    ----------
    values : None where a period has nothing to count; the line bridges it
    """
    known = [(index, value) for index, value in enumerate(values) if value is not None]
    if not known:
        return picture(key, title, "Nothing was counted.", _WIDTH, _HEIGHT)
    scale = scale_over([value for _, value in known], _HEIGHT - 7, 7)
    step = (_WIDTH - 16) / max(1, len(values) - 1)
    places = [(8 + index * step, scale.at(value)) for index, value in known]
    parts = [path([(8, _HEIGHT - 3), (_WIDTH - 8, _HEIGHT - 3)], class_="q-axis", stroke=INK, stroke_width=1.0)]
    if len(places) > 1:
        parts.append(path(places, class_="q-run", stroke=INK, stroke_width=2.0))
    parts.append(mark("dot", *places[-1], radius=4))
    first, newest = known[0][1], known[-1][1]
    told = f"From {shown_value(first, unit)} to {shown_value(newest, unit)} over {len(values)} periods."
    return picture(key, title, told, _WIDTH, _HEIGHT, *parts)
