"""The form of a dental arch as a curve through the contacts, and walking along it tooth by tooth.

Axes of the whole simulator, in mm: x toward the patient's left, y backward, z up (a right-handed frame). The
biting plane is z = 0, the midline x = 0, and the front contact of each arch stands at the origin of its arch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.core.teeth import ArchName
from app.imaging.simulator.published import arch_table

Floats = NDArray[np.float64]

_BEYOND_MM = 40.0
"""The curve goes on straight backward this far, past the second molars the published curve ends at."""


@dataclass(frozen=True, kw_only=True, eq=False)
class ArchCurve:
    """A curve from the patient's right to left.

    Parameters
    ----------
    points : shape (n, 2), x and y in mm
    along : shape (n,), signed length from the midline in mm, minus on the patient's right
    """

    points: Floats
    along: Floats

    def at(self, along: float | Floats) -> Floats:
        """The point at a signed length from the midline; shape (2,) or (n, 2)."""
        x = np.interp(along, self.along, self.points[:, 0])
        y = np.interp(along, self.along, self.points[:, 1])
        return np.stack([np.asarray(x), np.asarray(y)], axis=-1)

    def outward(self, along: float | Floats) -> Floats:
        """The unit vector away from the mouth, square to the curve; shape (2,) or (n, 2)."""
        middle = np.clip(along, self.along[0] + 1.0, self.along[-1] - 1.0)
        step = self.at(middle + 0.5) - self.at(middle - 0.5)
        step = step / np.linalg.norm(step, axis=-1, keepdims=True)
        return np.stack([step[..., 1], -step[..., 0]], axis=-1)

    def step_of_chord(self, start: float, chord_mm: float, sign: int) -> float:
        """Where a chord of this length that begins at ``start`` meets the curve again."""
        origin = self.at(start)
        reach = np.linspace(0.9 * chord_mm, 1.6 * chord_mm, 200)
        away = np.linalg.norm(self.at(start + sign * reach) - origin, axis=-1)
        return start + sign * float(np.interp(chord_mm, away, reach))


def arch_curve(arch: ArchName, half_lengths_mm: Sequence[float]) -> ArchCurve:
    """The published curve, sized so that the teeth of one side fill it to the distal of the second molar.

    Parameters
    ----------
    half_lengths_mm : sum of tooth widths from the midline to the end of the curve, right and left
    """
    table = arch_table()
    ratio = table["arches"][arch]["depth_to_width"]
    beta = table["beta"]
    # Denser toward the ends, where the curve is steepest.
    x = -0.5 * np.cos(np.linspace(0.0, np.pi, 4001))
    forward = beta["factor"] * ratio * ((x + 0.5) * (0.5 - x)) ** beta["exponent"]
    length = float(np.sum(np.hypot(np.diff(x), np.diff(forward))))
    scale = (half_lengths_mm[0] + half_lengths_mm[1]) / length
    points = np.stack([x, ratio - forward], axis=-1) * scale
    tail = np.array([[0.0, _BEYOND_MM]])
    points = np.concatenate([points[:1] + tail, points, points[-1:] + tail])
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    return ArchCurve(points=points, along=along - np.interp(0.0, points[:, 0], along))
