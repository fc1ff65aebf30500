"""Outlines in a tooth's own axes, and the frames that put them on the page.

Own axes: *across* runs away from the midline (distal positive), *deep* runs from the biting edge towards the
root's end. A frame turns them into the page's x (viewer's right) and y (down). A frame on the patient's right
is the mirror image of its partner on the left, so that every shape is drawn once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Point = tuple[float, float]
Step = tuple[str, tuple[Point, ...]]


@dataclass(frozen=True)
class Outline:
    """Steps of an SVG path (absolute M, L, Q, C, Z) in a tooth's own axes."""

    steps: tuple[Step, ...]

    def __add__(self, other: Outline) -> Outline:
        return Outline(self.steps + other.steps)

    def moved(self, across: float = 0.0, deep: float = 0.0, scale: float = 1.0) -> Outline:
        """The outline scaled about its origin, then shifted."""
        return Outline(
            tuple(
                (letter, tuple((x * scale + across, y * scale + deep) for x, y in points))
                for letter, points in self.steps
            )
        )


def outline(*steps: tuple[str, *tuple[float, ...]]) -> Outline:
    """An outline from steps such as ``("C", x1, y1, x2, y2, x, y)``."""
    made: list[Step] = []
    for letter, *numbers in steps:
        made.append((letter, tuple(zip(numbers[::2], numbers[1::2], strict=True))))
    return Outline(tuple(made))


@dataclass(frozen=True)
class Frame:
    """Where a shape stands on the page.

    Parameters
    ----------
    x, y : page position of the origin
    across : page direction of *across*, a unit vector
    deep : page direction of *deep*, a unit vector
    """

    x: float
    y: float
    across: Point
    deep: Point

    def point(self, across: float, deep: float) -> Point:
        """Page position of a point given in the frame's own axes."""
        return (
            self.x + across * self.across[0] + deep * self.deep[0],
            self.y + across * self.across[1] + deep * self.deep[1],
        )

    def path(self, shape: Outline) -> str:
        """The shape as the ``d`` of an SVG path, to a tenth of a unit."""
        words: list[str] = []
        for letter, points in shape.steps:
            placed = " ".join(written(*self.point(*point)) for point in points)
            words.append(letter + placed)
        return "".join(words)


def written(x: float, y: float) -> str:
    """A page position as SVG writes it."""
    return f"{_short(x)} {_short(y)}"


def _short(number: float) -> str:
    rounded = round(number, 1)
    return f"{rounded:g}" if rounded else "0"


@dataclass(frozen=True)
class Bow:
    """The line of an arch: a circle's piece that bows away from the mouth's middle.

    Parameters
    ----------
    radius : of the biting edge
    middle_y : page height of the biting edge at the midline
    upper : whether the roots point up
    """

    radius: float
    middle_y: float
    upper: bool

    def frame(self, along: float, away_from_midline: int) -> Frame:
        """The frame at a length along the bow, counted from the midline towards the viewer's right.

        Parameters
        ----------
        along : units of length on the biting edge
        away_from_midline : 1 where distal is the viewer's right, -1 where it is the viewer's left
        """
        turn = along / self.radius
        sign = -1.0 if self.upper else 1.0
        centre_y = self.middle_y - sign * self.radius
        x = self.radius * math.sin(turn)
        y = centre_y + sign * self.radius * math.cos(turn)
        right = (math.cos(turn), -sign * math.sin(turn))
        return Frame(
            x,
            y,
            (right[0] * away_from_midline, right[1] * away_from_midline),
            (math.sin(turn), sign * math.cos(turn)),
        )
