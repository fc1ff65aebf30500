"""How an image lies, against how its slot's receptor lies."""

from __future__ import annotations

SQUARE_WITHIN = 1.05
"""Long side over short side up to which an image counts as square. The squarest receptor sizes have 1.32 (31 x 41
mm), so nothing between is a receptor's own shape; exporters square images and crop a little."""


def orientation_of(width: int, height: int) -> str:
    """``portrait``, ``landscape`` or ``square``, for a size in pixels.

    Examples
    --------
    >>> orientation_of(1300, 1000), orientation_of(1000, 1300), orientation_of(1000, 1020)
    ('landscape', 'portrait', 'square')
    """
    if max(width, height) <= SQUARE_WITHIN * min(width, height):
        return "square"
    return "landscape" if width > height else "portrait"


def contradicts(orientation: str, wanted: str) -> bool:
    """Whether an image that lies so cannot be of a receptor that lies as ``wanted``; a square one can be either.

    Examples
    --------
    >>> contradicts("portrait", "landscape"), contradicts("square", "landscape")
    (True, False)
    """
    return "square" not in (orientation, wanted) and orientation != wanted
