"""What is normal for one receptor, learned from what it delivered so far, and thresholds moved to fit.

A receptor that always delivers a little more noise or softer edges than usual would be warned of for ever, and one
that is much better than usual would have to lose a great deal before anything is said. After enough images the
middle (median) and the usual scatter (median absolute deviation) of each measurement are known; both stay right
although up to half of the images were faulty. 1.4826 times that deviation estimates the standard deviation of
normal scatter: it is 1 over the 75th percentile of the normal distribution (Rousseeuw and Croux, J Am Stat Assoc
88, 1993, p. 1273).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median
from types import MappingProxyType

from app.imaging.thresholds import Thresholds

FEWEST_IMAGES = 30
"""Images before anything is learned: their median is then known to a quarter of the scatter, 1.2533 / sqrt(30)."""
TO_DEVIATION = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""
BEYOND = 3.0
"""Deviations from the middle at which a warning stands: 1 image of 740 beyond, by scatter alone."""
FURTHEST = 1.5
"""Factor by which a threshold moves at most, either way: a receptor whose every image is faulty must not become
its own norm."""

LEARNED: Mapping[str, str] = MappingProxyType(
    {"blurred": "edge_width", "noisy": "noise_ratio", "low_contrast": "contrast"}
)
"""Codes whose thresholds follow the receptor, and the measurement that each looks at. How light an image is
follows the exposure, not the receptor, and areas have no normal range."""


@dataclass(frozen=True, kw_only=True)
class Usual:
    """The middle and the scatter (as a standard deviation) of one measurement, and of how many images."""

    middle: float
    deviation: float
    images: int


NormalRange = Mapping[str, Usual]
"""By name of the measurement."""


def learn_normal(measurements: Iterable[Mapping[str, float]]) -> NormalRange | None:
    """A receptor's own normal range; None while there are too few images.

    Parameters
    ----------
    measurements : of each past image of the receptor, as an inspection gives them. A measurement that an image
        lacks is passed over; one that fewer than ``FEWEST_IMAGES`` images have is left out.
    """
    values: dict[str, list[float]] = {}
    for each in measurements:
        for name, value in each.items():
            values.setdefault(name, []).append(value)
    found = {name: _usual(sample) for name, sample in values.items() if len(sample) >= FEWEST_IMAGES}
    return MappingProxyType(found) if found else None


def _usual(sample: list[float]) -> Usual:
    centre = median(sample)
    return Usual(
        middle=centre,
        deviation=TO_DEVIATION * median(abs(each - centre) for each in sample),
        images=len(sample),
    )


def adjusted(thresholds: Thresholds, normal: NormalRange) -> Thresholds:
    """The thresholds for a receptor with this normal range.

    A warning stands three deviations from the receptor's middle, but never further than by half from where it
    stood. Its failure keeps its ratio to it.
    """
    moved = dict(thresholds)
    for code, name in LEARNED.items():
        usual = normal.get(name)
        if usual is None:
            continue
        warning, fail = thresholds[f"{code}.warning"], thresholds[f"{code}.fail"]
        away = BEYOND * usual.deviation
        wanted = usual.middle + away if fail > warning else usual.middle - away
        new = min(max(wanted, warning / FURTHEST), warning * FURTHEST)
        moved[f"{code}.warning"] = new
        moved[f"{code}.fail"] = fail * new / warning
    return MappingProxyType(moved)
