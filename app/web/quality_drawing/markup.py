"""SVG elements as escaped text, and the few marks and lines that every chart is made of.

Presentation attributes draw each chart in black on white, so that it stands alone in a file or on paper; the
classes let the style sheet colour it on the screen. There are no style attributes: the page's policy forbids them.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from markupsafe import Markup, escape

Shape = Literal["dot", "ring", "diamond", "triangle"]
LineKind = Literal["centre", "warning", "limit", "reference"]

INK = "#000"
GROUND = "#fff"

DASHES: dict[LineKind, str] = {"centre": "", "warning": "9 5", "limit": "2 5", "reference": "14 4 2 4"}
"""Dash pattern of each kind of line, in pixels: the middle is whole, the outer the line the finer broken."""

CHARACTER = 0.5
"""Width of a letter as a share of the type size, for laying text out."""


def number(value: float) -> str:
    """A coordinate in pixels, to a tenth."""
    return f"{value:.1f}".removesuffix(".0")


def element(name: str, *children: Markup, **attributes: str | float | None) -> Markup:
    """An element; ``class_`` is written ``class``, an underscore becomes a hyphen, None leaves one out."""
    written = Markup("").join(
        Markup(' {}="{}"').format(
            key.rstrip("_").replace("_", "-"), number(value) if isinstance(value, float | int) else value
        )
        for key, value in attributes.items()
        if value is not None
    )
    inside = Markup("").join(children)
    return Markup("<{0}{1}>{2}</{0}>").format(Markup(name), written, inside)  # noqa: S704 - names are our own  # nosec B704


def words(
    text: str, x: float, y: float, *, size: float = 15, anchor: str = "start", kind: str = "", bold: bool = False
) -> Markup:
    """A line of text; ``anchor`` is start, middle or end."""
    return element(
        "text",
        escape(text),
        class_=f"q-text {kind}".strip(),
        x=x,
        y=y,
        font_size=size,
        text_anchor=anchor,
        fill=INK,
        font_weight="700" if bold else None,
    )


def shortened(text: str, width: float, size: float = 15) -> str:
    """The text, cut with an ellipsis where it would be wider than ``width`` pixels.

    Examples
    --------
    >>> shortened("Upper right molar", 60)
    'Upper r …'
    """
    room = max(2, int(width / (CHARACTER * size)))
    return text if len(text) <= room else f"{text[: room - 1].rstrip()} …"


def path(points: Iterable[tuple[float, float]], **attributes: str | float | None) -> Markup:
    """An open line through points."""
    drawn = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return element("path", d=drawn, fill="none", **attributes)


def stroke(x1: float, y1: float, x2: float, y2: float, *, kind: str = "q-axis", width: float = 1.5) -> Markup:
    """A straight whole line."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=kind, stroke=INK, stroke_width=width)


def limit_line(points: Iterable[tuple[float, float]], kind: LineKind) -> Markup:
    """A line of the dash pattern of its kind."""
    return path(
        points,
        class_=f"q-line q-{kind}",
        stroke=INK,
        stroke_width=2.0 if kind == "centre" else 1.6,
        stroke_dasharray=DASHES[kind] or None,
    )


def mark(shape: Shape, x: float, y: float, *, radius: float = 5.5, note: str = "", kind: str = "") -> Markup:
    """One point of a chart; ``note`` is shown where a pointer rests on it.

    ``dot`` is filled, ``ring`` hollow (few exposures), ``triangle`` stands for beyond the inner limit, ``diamond``
    for beyond the outer one or for a signal.
    """
    inside = (element("title", escape(note)),) if note else ()
    look: dict[str, str | float | None] = {
        "class_": f"q-mark q-{shape} {kind}".strip(),
        "stroke": INK,
        "stroke_width": 2.0,
        "fill": GROUND if shape == "ring" else INK,
    }
    if shape in ("dot", "ring"):
        return element("circle", *inside, cx=x, cy=y, r=radius, **look)
    wide = radius * 1.35
    corners = [(x, y - wide), (x + wide, y), (x, y + wide), (x - wide, y)]
    if shape == "triangle":
        corners = [(x, y - wide), (x + wide, y + wide * 0.8), (x - wide, y + wide * 0.8)]
    return element("polygon", *inside, points=" ".join(f"{number(a)},{number(b)}" for a, b in corners), **look)


def picture(key: str, title: str, description: str, width: float, height: float, *parts: Markup) -> Markup:
    """The whole drawing.

    Parameters
    ----------
    key : unique on the page; ids of title and description begin with it
    width, height : pixels at the size at which the text was laid out
    """
    return element(
        "svg",
        element("title", escape(title), id=f"{key}-title"),
        element("desc", escape(description), id=f"{key}-desc"),
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        class_="q-chart",
        role="img",
        aria_labelledby=f"{key}-title",
        aria_describedby=f"{key}-desc",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        font_family="sans-serif",
    )
