"""Tissue lost at an end of the scale.

Metal is clipped too, and so is open space; neither loses anything. Metal ends in a step, whereas tissue that is
burnt out rises to white gradually and what is left beside it is nearly white. Open space reaches the border;
tissue lost in the dark lies within the image and falls to black gradually.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from app.imaging.planes import Fields
from app.imaging.regions import Mask, grown

FLAT = 0.008
"""Spread inside a field up to which it holds nothing, besides noise."""
END = 0.015
"""Distance from an end of the scale within which a field is clipped: four levels of 255."""
SOFT = 0.2
"""Distance from that end within which half of what lies two fields away stays where the area fades into it. Two
fields are a millimetre; beside metal lie enamel, dentine and bone, mostly further from white than that."""
SMALLEST = 0.005
"""Share of the area of the smallest part that counts."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Clipped:
    """A clipped area: its fields, whether light, and its share of all fields, 0 to 1."""

    mask: Mask
    light: bool
    share: float


def clipped_tissue(fields: Fields, left_out: Mask, noise: float) -> list[Clipped]:
    """What tissue lost at either end of the scale, the light end first.

    Parameters
    ----------
    left_out : fields that are not looked at: unexposed areas
    noise : standard deviation of a fine pixel, share of the grey range
    """
    mean = fields.mean
    flat = (fields.spread < FLAT + noise) & ~left_out
    found: list[Clipped] = []
    for light in (True, False):
        distance = 1 - mean if light else mean
        places = flat & (distance < END)
        if np.count_nonzero(places) < SMALLEST * mean.size:
            continue
        count, numbered, stats, _ = cv2.connectedComponentsWithStats(places.view(np.uint8), connectivity=4)
        lost = np.zeros(mean.shape, bool)
        for each in range(1, count):
            left, top, width, height, size = stats[each].tolist()
            if size < SMALLEST * mean.size:
                continue
            at_border = left == 0 or top == 0 or left + width == mean.shape[1] or top + height == mean.shape[0]
            if at_border and not light:
                continue
            part = numbered == each
            near = grown(grown(part))
            ring = distance[grown(near) & ~near & ~left_out]
            if ring.size and float((ring < SOFT).mean()) >= 0.5:
                lost |= part
        if lost.any():
            found.append(Clipped(mask=lost, light=light, share=float(lost.mean())))
    return found
