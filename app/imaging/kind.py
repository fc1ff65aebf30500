"""Whether a picture can be a radiograph at all: not a colour photograph, a page of text, an icon or a drawing."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from app.imaging.colour import is_colour
from app.imaging.planes import Fields
from app.imaging.radiograph import Radiograph

ICON = "an icon or preview"
PAPER = 0.72
"""Level from which the commonest field can be paper."""
PAPER_SHARE = 0.4
"""Share of the fields within 0.04 of the paper: a page is mostly margins and gaps."""
INK_SHARE = 0.04
"""Share of the fields that hold strokes, so that their spread is above 0.12."""
SHADED = 0.1
"""Share of the fields that are smooth but not paper, from which it is a shaded picture."""
FEW_LEVELS = 12
"""A drawing's flat areas have fewer levels than this; noise gives any radiograph more."""
WIDE = 0.3
"""Range of grey below which few levels only mean low contrast."""
FEW_SHARE = 0.85
"""Share of the pixels at those levels, the two ends of the scale not counted."""


@dataclass(frozen=True, kw_only=True)
class OtherKind:
    """What the picture seems to be instead, and how surely, 0 to 1."""

    what: str
    score: float


def other_kind(radiograph: Radiograph, fields: Fields, icon_side: float) -> OtherKind | None:
    """What the picture is if it is no radiograph; None where it may be one.

    Parameters
    ----------
    fields : of the whole picture: a page's margins look like a frame, and are what tells it
    icon_side : pixels; a picture whose long side is no longer is an icon
    """
    if max(radiograph.width, radiograph.height) <= icon_side:
        return OtherKind(what=ICON, score=1.0)
    if is_colour(radiograph.colour_spread, radiograph.hue_variety):
        return OtherKind(what="a colour picture", score=min(1.0, radiograph.colour_spread / 100))
    # A dark page with light writing is a page all the same.
    return _page(fields.mean, fields.spread) or _page(1 - fields.mean, fields.spread)


def _page(mean: NDArray[np.float32], spread: NDArray[np.float32]) -> OtherKind | None:
    # What nearly no radiograph has is asked first.
    ink = np.count_nonzero(spread > 0.12) / max(1, mean.size)
    if ink < INK_SHARE:
        return None
    plain = mean[spread < 0.02]
    if len(plain) < 0.3 * mean.size:
        return None
    counts, edges = np.histogram(plain, bins=50, range=(0.0, 1.0))
    at = int(np.argmax(counts))
    paper = float((edges[at] + edges[at + 1]) / 2)
    # Margins and the gaps between lines are paper; a field with a stroke has paper in it too.
    share = float((np.abs(mean - paper) < 0.04).mean())
    between = float(((spread < 0.05) & (np.abs(mean - paper) > 0.08)).mean())
    if paper >= PAPER and share >= PAPER_SHARE and between < SHADED:
        return OtherKind(what="a page of text or a form", score=share)
    return None


def drawing(native: NDArray[np.uint8], pixel_range: float) -> OtherKind | None:
    """Whether a picture is drawn in a few flat levels; to be asked only of one that is not even throughout.

    Parameters
    ----------
    native : shape (rows, columns), without the frame
    pixel_range : 5th to 95th percentile of its pixels, share of the grey range
    """
    if pixel_range < WIDE:
        return None
    sample = np.ascontiguousarray(native[::3, ::3])
    counts = cv2.calcHist([sample], [0], None, [256], [0, 256]).ravel()[4:252]
    total = int(counts.sum())
    if total < 0.25 * sample.size:
        return None
    share = float(np.sort(counts)[-FEW_LEVELS:].sum()) / total
    return OtherKind(what="a drawing", score=share) if share >= FEW_SHARE else None
