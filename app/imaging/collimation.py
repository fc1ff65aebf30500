"""Cone cut: the part of the receptor that the beam did not reach.

The collimator's edge is a straight line, a long arc or (of a rectangular one) a corner, and the beam's field is
convex; beyond it the receptor has one even grey up to the border. Many things share some of these marks, none all:

==============================  ==========================================================
open space beyond teeth          dark, and its outline goes up and down with the teeth
lip or ridge against the air     dark, smooth, but fading: no step along the outline
metal crown at the border        light, even, but its outline bulges the other way
rounded corners of a plate       light, even, arc, but each under a hundredth of the area
block painted over a name        even, but its corner points the other way
frame of a viewer or scanner     even and straight, taken off before
clipped bone                     light, but its outline is rough
==============================  ==========================================================

An unexposed area is light where teeth are light. It is dark in files shown the other way round; because open space
is dark too, a dark area must show a step all along its outline.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from app.imaging.order import middle, ranked
from app.imaging.outlines import Outline, outline_of
from app.imaging.planes import Fields
from app.imaging.regions import Mask, grown, parts_at_border, rim

LEVELS_WITHIN = (0.006, 0.035)
"""Grey range within which the fields of an unexposed area lie. The narrow one parts an area clipped to one level
from open space of nearly the same grey; the wide one allows for scatter, which shades it a little."""
EVEN = 0.03
"""Largest usual spread inside its fields, besides noise."""
EXTREME_SHARE = 0.12
"""Share of the other fields that may be beyond its level: metal is lighter, the open space of a file shown the
other way round darker."""
ROUGHEST = 1.0
"""Residual of the outline, in fields, that still counts as smooth: the grid itself makes up to 0.6."""
SMOOTHEST = 0.75
"""The same for a dark area where open space is dark as well."""
FILLED = 0.82
"""Least agreement between the area and all that lies beyond its outline."""
COVERED, SUPPORTED, NOT_METAL = 0.94, 0.6, 0.68
"""Where metal may touch it: what of all beyond the outline the area is, along what share of it the area ends, and
least agreement as above."""
MOST_GAPS = 2
"""Stretches of the outline hidden by metal. A row of teeth beside light open space opens it between every two."""
SHORTEST = 0.3
"""Length of the outline over the short side of the image."""
TIGHTEST = 0.45
"""Radius over the short side. Collimators of 60 mm on a receptor 31 mm high have about 1; a margin for magnified
or cropped files."""
STEP_LIGHT, STEP_DARK = 0.08, 0.12
"""Step of grey that the outline shows along most of its length, for light and for dark areas. Metal beside a light
area is as light as it; a lip or ridge fades into dark open space."""
STEP_ALONG_LIGHT, STEP_ALONG_DARK = 40, 25
"""Percentile of the steps along the outline that must reach it."""


RIM_SHARE = 0.07
"""Share of the fields along the border that an area has at least: a twentieth cut off a corner has a sixth."""
SMALLEST_PART = 0.01
"""Share of the area below which a part is not looked at: a rounded corner of a plate."""
SUDDEN = 0.6
"""Least share of the step six fields away that is reached after two: a collimator's edge is a fraction of a
millimetre wide on the receptor, a lip or ridge fades over several. Against a dark area the step must not be much
larger near than far either: the dense rim of a jaw beside open space is."""
CROSSED = 0.6
"""Least variety of grey along the outline of a dark area over that of the rest of the image. A collimator's edge
runs across whatever lies there; a lip's or ridge's edge has the same tissue all along."""
ROUND, WIDEST = 0.45, 2.5
"""Residual, and radius over the short side, up to which a dark area's arc is taken without that variety."""
AIR_LIGHT = 0.85
"""Level from which, or below its opposite, even fields can be open space."""
AIR_SHARE = 0.08
"""Share of even, light fields at the border from which a file may be shown the other way round."""


@dataclass(frozen=True, kw_only=True)
class Unexposed:
    """An area that the beam did not reach.

    Parameters
    ----------
    mask : shape of the fields
    share : of the fields, 0 to 1
    light : whether it is lighter than the rest
    outline : how it is bounded
    sure : 0 to 1, how clearly it is what it seems
    """

    mask: Mask
    share: float
    light: bool
    outline: Outline
    sure: float


def find_unexposed(fields: Fields, noise: float, smallest: float) -> list[Unexposed]:
    """Unexposed areas of the radiograph itself, largest first.

    Parameters
    ----------
    fields : of the image without its frame
    noise : standard deviation of a fine pixel, share of the grey range
    smallest : share of the area below which nothing is said
    """
    mean, spread = fields.mean, fields.spread
    if min(mean.shape) < 12:
        return []
    found: list[Unexposed] = []
    taken = np.zeros(mean.shape, bool)
    judged: list[tuple[Mask, int]] = []
    for level, within in product(_candidate_levels(mean, spread, noise), LEVELS_WITHIN):
        even = spread <= min(EVEN, within) + 1.5 * noise
        near = np.abs(mean - level) <= within + 2 * noise / fields.side
        for part in parts_at_border(near & even & ~taken, max(6, int(SMALLEST_PART * mean.size))):
            size = int(part.sum())
            # The wide tolerance often finds just what the narrow one did.
            if any(abs(size - other) < 0.02 * size and seen[part].mean() > 0.95 for seen, other in judged):
                continue
            judged.append((part, size))
            area = _judged(part, mean, spread)
            if area is not None:
                taken |= grown(part)
                found.append(area)
    total = sum(each.share for each in found)
    return sorted(found, key=lambda each: -each.share) if total >= smallest else []


def _candidate_levels(mean: NDArray[np.float32], spread: NDArray[np.float32], noise: float) -> list[float]:
    """Levels at which many even fields lie along the border, at most two light and two dark ones."""
    rims = rim(mean.shape, 2)
    even = mean[rims & (spread <= EVEN + 1.5 * noise)]
    levels: list[float] = []
    centre = middle(mean)
    for side in (even[even > centre], even[even <= centre]):
        for _ in range(2):
            if len(side) < RIM_SHARE * rims.sum():
                break
            counts = np.bincount((side * 100).astype(np.intp), minlength=101)
            counts[99] += counts[100]
            at = int(np.argmax(counts[:99] + counts[1:100]))
            heap = (side >= at / 100) & (side <= (at + 2) / 100)
            level = middle(side[heap])
            close = np.abs(side - level) <= LEVELS_WITHIN[-1]
            if close.sum() >= RIM_SHARE * rims.sum():
                levels.append(level)
            side = side[~close]
    return levels


def _judged(part: Mask, mean: NDArray[np.float32], spread: NDArray[np.float32]) -> Unexposed | None:
    # The fields that the edge runs through belong to neither side.
    edge = grown(grown(part)) & ~part
    rest = ~(part | edge)
    if rest.sum() < 0.15 * part.size:
        return None
    level = middle(mean[part])
    others = mean[rest]
    lighter, darker = float((others > level + 0.02).mean()), float((others < level - 0.02).mean())
    light = lighter <= darker
    if min(lighter, darker) > EXTREME_SHARE:
        return None
    # What costs little is asked first: most parts fall here, before any outline is fitted.
    near = grown(grown(part))
    steps = np.abs(mean[grown(near) & ~near] - level)
    along, least = (STEP_ALONG_LIGHT, STEP_LIGHT) if light else (STEP_ALONG_DARK, STEP_DARK)
    step = ranked(steps, along) if steps.size else 0.0
    if step < least:
        return None
    further = grown(grown(grown(near)))
    far = np.abs(mean[grown(further) & ~further] - level)
    reach = middle(far) if far.size else middle(steps)
    if middle(steps) < SUDDEN * reach or (not light and middle(steps) > reach / SUDDEN):
        return None
    if middle(spread[part]) > middle(spread[rest]) * 1.2 + 0.004:
        return None
    outline = outline_of(part)
    short = min(part.shape)
    if (
        outline is None
        or not outline.bows
        or not (_smooth(outline) or _smooth_but_for_metal(outline))
        or outline.length < SHORTEST * short
        or outline.radius < TIGHTEST * short
    ):
        return None
    if not light and not _air_is_light(part, mean, spread):
        if outline.level or outline.shape == "window" or outline.residual > SMOOTHEST:
            return None
        round_field = outline.residual <= ROUND and outline.radius <= WIDEST * short
        crossed = float(np.ptp(np.percentile(mean[grown(near) & ~near], (25, 75))))
        if not round_field and crossed < CROSSED * float(np.ptp(np.percentile(others, (25, 75)))):
            return None
    sure = min(1.0, step / 0.2) * min(1.0, 0.6 / max(outline.half, 0.3)) * min(1.0, outline.filled / 0.8)
    area = part & outline.beyond
    share = float(grown(area).sum()) / part.size
    return Unexposed(mask=area, share=share, light=light, outline=outline, sure=sure)


def _smooth(outline: Outline) -> bool:
    return outline.residual <= ROUGHEST and outline.filled >= FILLED


def _smooth_but_for_metal(outline: Outline) -> bool:
    """Whether an area fills all beyond its outline and ends along it, but for metal that touches it.

    Metal is as light as an unexposed area, so that the area seems to bulge out there.
    """
    return (
        outline.covered >= COVERED
        and outline.supported >= SUPPORTED
        and outline.filled >= NOT_METAL
        and outline.gaps <= MOST_GAPS
    )


def _air_is_light(part: Mask, mean: NDArray[np.float32], spread: NDArray[np.float32]) -> bool:
    """Whether what is even along the border, the part itself apart, is light: then dark is what was not exposed.

    A dark strip along the grid is otherwise padding, a painted strip or open space.
    """
    even = (spread < np.median(spread)) & ~grown(grown(part))
    light = sum(int(found.sum()) for found in parts_at_border(even & (mean > AIR_LIGHT), 10))
    dark = sum(int(found.sum()) for found in parts_at_border(even & (mean < 1 - AIR_LIGHT), 10))
    return light >= AIR_SHARE * mean.size and dark < light / 2
