"""Outlines of crowns and roots as profiles along the tooth, from a handful of knots (shapes from memory).

Heights here are the tooth's ``a``: 0 at the neck, minus toward the biting edge, plus toward the root.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.imaging.simulator.solids import TABLE_STEP_MM, Floats, Loft

Knots = Sequence[tuple[float, float]]


def heights_between(low: float, high: float) -> Floats:
    """Heights from ``low`` to ``high``, one table step apart, both ends in."""
    count = max(2, round((high - low) / TABLE_STEP_MM) + 1)
    return np.asarray(low + TABLE_STEP_MM * np.arange(count), dtype=np.float64)


def smooth(knots: Knots, at: Floats) -> Floats:
    """A smooth curve near the knots (x ascending), without overshoot beyond their range."""
    x = np.array([knot[0] for knot in knots])
    y = np.array([knot[1] for knot in knots])
    slope = np.diff(y) / np.diff(x)
    # Tangents of the monotone cubic after Fritsch and Carlson (from memory): 0 at a turning point.
    tangent = np.concatenate([slope[:1], np.zeros(len(x) - 2), slope[-1:]])
    for i in range(1, len(x) - 1):
        if slope[i - 1] * slope[i] > 0:
            tangent[i] = 2.0 * slope[i - 1] * slope[i] / (slope[i - 1] + slope[i])
    index = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    span = x[index + 1] - x[index]
    t = np.clip((at - x[index]) / span, 0.0, 1.0)
    found: Floats = (
        (2 * t**3 - 3 * t**2 + 1) * y[index]
        + (t**3 - 2 * t**2 + t) * span * tangent[index]
        + (-2 * t**3 + 3 * t**2) * y[index + 1]
        + (t**3 - t**2) * span * tangent[index + 1]
    )
    return found


def rounded(distance_mm: Floats, radius_mm: float) -> Floats:
    """Factor that closes a solid like a dome: 0 at its end, 1 from ``radius_mm`` inward."""
    part = np.clip(distance_mm / radius_mm, 0.0, 1.0)
    dome: Floats = np.sqrt(np.clip(1.0 - (1.0 - part) ** 2, 0.0, 1.0))
    return dome


def crown_profile(
    height_mm: float, half_x: Knots, half_b: Knots, *, top: float, dome_mm: float, power: float
) -> Loft:
    """A crown without its cusps.

    Parameters
    ----------
    height_mm : of the whole crown
    half_x, half_b : knots of (share of the height from neck to edge, half width in mm)
    top : share of the height at which the body ends
    dome_mm : how far below its end the body begins to round off
    power : of its sections; rounder front teeth touch in a smaller area than broad molars
    """
    a = -heights_between(0.0, height_mm * top)[::-1]
    share = -a / height_mm
    dome = rounded(a - a[0], dome_mm)
    zero = np.zeros_like(a)
    return Loft(
        start=float(a[0]),
        centre_x=zero,
        centre_b=zero,
        half_x=smooth(half_x, share) * dome,
        half_b=smooth(half_b, share) * dome,
        power=power,
    )


def cusp(tip_mm: float, base_mm: float, place: tuple[float, float], radius: tuple[float, float]) -> Loft:
    """A cusp with its tip at height -``tip_mm``, widest at -``base_mm``."""
    a = heights_between(-tip_mm, -base_mm)
    part = (a - a[0]) / (a[-1] - a[0])
    swell = np.clip(1.0 - (1.0 - part) ** 1.7, 0.0, 1.0) ** 0.62
    return Loft(
        start=float(a[0]),
        centre_x=place[0] * (0.86 + 0.14 * (1 - part)),
        centre_b=np.full_like(a, place[1]),
        half_x=radius[0] * swell,
        half_b=radius[1] * swell,
    )


def root_profile(
    start_mm: float,
    end_mm: float,
    knots_x: Knots,
    half: tuple[float, float],
    knots_b: Knots,
    *,
    taper: float = 0.62,
    grow_mm: float = 0.0,
) -> Loft:
    """A root from ``start_mm`` below the neck to its apex.

    Parameters
    ----------
    knots_x, knots_b : the root's middle line as (share of the way to the apex, mm)
    half : half widths at the start, mm
    taper : share of the half widths lost on the way to the apex
    grow_mm : added all round and beyond the apex, for what surrounds the root
    """
    a = heights_between(start_mm, end_mm + grow_mm)
    share = np.clip((a - start_mm) / (end_mm - start_mm), 0.0, 1.0)
    thinner = 1.0 - taper * share**1.3
    dome = rounded(a[-1] - a, 2.6 + grow_mm)
    return Loft(
        start=float(a[0]),
        centre_x=smooth(knots_x, share),
        centre_b=smooth(knots_b, share),
        half_x=(half[0] * thinner + grow_mm) * dome,
        half_b=(half[1] * thinner + grow_mm) * dome,
    )
