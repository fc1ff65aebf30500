"""Slow drift, which single points on a chart do not show: EWMA and CUSUM.

The exponentially weighted moving average remembers earlier points with falling weight; the cumulative sum adds up
what lies beyond an allowance on either side. Both catch a shift of one standard deviation within some ten points,
where three-sigma limits alone take more than forty (NIST/SEMATECH e-Handbook 6.3.2.3 and 6.3.2.4, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from app.core.errors import InputError

DRIFT_WEIGHT = 0.2
"""Weight of the newest point: 0.2 to 0.3 is usual (NIST/SEMATECH e-Handbook 6.3.2.4)."""


@dataclass(frozen=True, kw_only=True)
class EwmaPoint:
    """The moving average after one period, with its limits; ``signal`` says that it lies outside."""

    ewma: float
    lower: float
    upper: float
    signal: bool


@dataclass(frozen=True, kw_only=True)
class CusumPoint:
    """The sums after one period.

    Parameters
    ----------
    high, low : what has gathered above and below the target beyond the allowance, both counted from 0 up
    total : plain sum of the deviations so far
    signal : one of the sums lies beyond the decision limit
    """

    high: float
    low: float
    total: float
    signal: bool


def ewma(
    values: Sequence[float | None],
    *,
    centre: float,
    sigmas: float | Sequence[float | None],
    weight: float = DRIFT_WEIGHT,
    width: float = 3.0,
    settled: bool = False,
) -> tuple[EwmaPoint, ...]:
    """The exponentially weighted moving average of each period, begun at the centre line.

    Parameters
    ----------
    values : period by period; None where nothing was measured, when the average stays as it was
    centre : where the average begins, and the middle of its limits
    sigmas : standard deviation of each value, or one for all; those of shares differ with their denominators
    weight : of the newest value, above 0 to 1
    width : limits, in standard deviations of the average
    settled : use the limits that the average reaches in the long run from the first point on; needs one sigma

    Notes
    -----
    The variance of the average is carried along: ``weight² sigma² + (1 - weight)²`` times the variance before,
    which is exact for denominators that vary.

    References
    ----------
    NIST/SEMATECH e-Handbook 6.3.2.4 (its printed limits are the settled ones).
    """
    if not 0 < weight <= 1:
        raise InputError("weight", f"{weight} is no weight. Give one above 0, at most 1")
    many = [sigmas] * len(values) if isinstance(sigmas, int | float) else list(sigmas)
    if len(many) != len(values):
        raise InputError("sigmas", f"{len(many)} standard deviations for {len(values)} values. Give one for each")
    average, variance = centre, 0.0
    points: list[EwmaPoint] = []
    for value, sigma in zip(values, many, strict=True):
        if value is not None and sigma is not None:
            average = weight * value + (1 - weight) * average
            variance = (weight * sigma) ** 2 + (1 - weight) ** 2 * variance
            if settled:
                variance = sigma**2 * weight / (2 - weight)
        away = width * sqrt(variance)
        beyond = abs(average - centre) > away + 1e-12
        points.append(EwmaPoint(ewma=average, lower=centre - away, upper=centre + away, signal=beyond))
    return tuple(points)


def cusum(
    values: Sequence[float | None], *, target: float, allowance: float, decision: float
) -> tuple[CusumPoint, ...]:
    """The tabular cumulative sums of each period, begun at 0.

    Parameters
    ----------
    values : period by period; None where nothing was measured, when the sums stay as they were
    target : the value to hold
    allowance : half the shift to catch, in the unit of the values (k)
    decision : sum beyond which there is a signal, in the unit of the values (h)

    References
    ----------
    NIST/SEMATECH e-Handbook 6.3.2.3; Montgomery DC, Runger GC, Applied Statistics and Probability for Engineers.
    """
    if allowance < 0 or decision <= 0:
        raise InputError("decision", "the allowance must be 0 or more, and the decision limit above 0")
    high = low = total = 0.0
    points: list[CusumPoint] = []
    for value in values:
        if value is not None:
            away = value - target
            high = max(0.0, high + away - allowance)
            low = max(0.0, low - away - allowance)
            total += away
        signal = high > decision or low > decision
        points.append(CusumPoint(high=high, low=low, total=total, signal=signal))
    return tuple(points)
