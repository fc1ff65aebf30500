"""Whether dark and light are exchanged in a file.

Radiographs are shown with much radiation dark. Two things then hold of nearly every one, by physics alone:

- Open space is dark. It reaches the border, and it is smooth: nothing lies in the beam there, and few files keep
  its full signal. Areas that the beam missed are smooth too, but light; they are found first and left out here.
- Structure lies on the light side. Bone, roots and crowns scatter and overlap; where hardly anything lies in the
  beam there is little to see, and the noise, too, is larger where fewer quanta arrive.

Each is a vote between -1 and 1; a file is taken for inverted only where both agree, because to turn a good file
round would make everything else wrong. Files without any open space, or noisy all over, give no clear vote. An
area that the beam missed and that was not recognised is smooth, light and at the border, just as the open space of
an inverted file: so the vote is taken once more with the areas left out that such a file would have, and a light
area behind a line or an arc speaks for a file as usual.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from app.imaging.collimation import Unexposed, find_unexposed
from app.imaging.order import middle, ranked
from app.imaging.planes import Fields
from app.imaging.regions import Mask, grown, rim

SMOOTH = 0.02
"""Spread inside a field, besides noise, up to which it can be open space."""
AT_END = 0.12
"""Levels from the darkest and the lightest field within which open space lies."""
CLEAR_SPACE = 0.15
"""Share of the rim that is open space from which that vote is a whole one."""
CLEAR_STRUCTURE = 1.5
"""Logarithm of the ratio of spreads from which that vote is a whole one: four and a half times."""
QUARTER = 15
"""Percentile of the fields' levels that counts as the dark, and its opposite as the light side."""
CLIPPED = 0.015
"""Distance from an end of the scale within which a field counts as clipped: four levels of 255."""
MUCH_CLIPPED = 0.15
"""Share of the fields at the light end that is much."""
LEAST_SPREAD = 0.002
"""Half a level of 255: what rounding alone makes."""


def exchanged(fields: Fields, left_out: Mask, noise: float) -> float:
    """How clearly dark and light are exchanged: -1 for a usual file, 1 for an inverted one, 0 where nothing tells.

    Parameters
    ----------
    fields : of the image without its frame
    left_out : unexposed areas, shape of the fields
    noise : standard deviation of a fine pixel's noise, share of the grey range
    """
    kept = ~left_out
    mean, spread = fields.mean[kept], fields.spread[kept]
    if mean.size < 50:
        return 0.0
    low, high = ranked(mean, 0.5), ranked(mean, 99.5)
    smooth = (spread < SMOOTH + 1.5 * noise) & rim(fields.mean.shape, 3)[kept]
    along = max(1, int(rim(fields.mean.shape, 3)[kept].sum()))
    dark = float((smooth & (mean < low + AT_END)).sum()) / along
    light = float((smooth & (mean > high - AT_END)).sum()) / along
    if high - low < 2 * AT_END:
        dark = light = 0.0
    # Bone burnt out in a file made too light is smooth and light like the open space of an inverted one. Where
    # much is clipped there, it tells nothing, and the structure is that of the rest.
    shown = mean < 1 - CLIPPED
    if shown.mean() < 1 - MUCH_CLIPPED and shown.sum() >= 50:
        mean, spread = mean[shown], spread[shown]
    lower = middle(spread[mean <= ranked(mean, QUARTER)])
    upper = middle(spread[mean >= ranked(mean, 100 - QUARTER)])
    ratio = float(np.log((upper + LEAST_SPREAD) / (lower + LEAST_SPREAD)))
    space = max(-1.0, min(1.0, (light - dark) / CLEAR_SPACE))
    structure = max(-1.0, min(1.0, -ratio / CLEAR_STRUCTURE))
    if space * structure <= 0:
        return 0.0
    return space * 0.5 + structure * 0.5


def inverted(
    fields: Fields, unexposed: list[Unexposed], noise: float, smallest: float, clear: float
) -> tuple[float, bool]:
    """How clearly dark and light are exchanged, and whether a file is to be taken for inverted.

    Parameters
    ----------
    unexposed : areas found in the file as it is
    noise, smallest : as for :func:`find_unexposed`
    clear : vote from which a file is taken for inverted
    """
    vote = exchanged(fields, _left_out(fields, unexposed), noise)
    if vote < clear:
        return vote, False
    turned = replace(fields, mean=1 - fields.mean)
    there = find_unexposed(turned, noise, smallest)
    again = -exchanged(turned, _left_out(fields, there), noise)
    as_usual = any(area.light for area in unexposed) and not any(area.light for area in there)
    return min(vote, again), again >= clear and not as_usual


def _left_out(fields: Fields, unexposed: list[Unexposed]) -> Mask:
    mask = np.zeros(fields.mean.shape, bool)
    for area in unexposed:
        mask |= grown(grown(area.mask))
    return mask
