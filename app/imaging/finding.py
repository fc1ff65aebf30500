"""What a measurement says to a person."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.imaging.planes import Box


class FindingCode(StrEnum):
    """The kinds of finding; below each what its ``score`` means."""

    BLANK = "blank"
    """Spread of the anatomy's greys, share of the grey range: 0 for an even picture."""
    TOO_LIGHT = "too_light"
    """Mean of median and 10th percentile of tissue, share of the grey range: 1 is white throughout."""
    TOO_DARK = "too_dark"
    """Mean of the quartiles of tissue, share of the grey range: 0 is black throughout."""
    LOW_CONTRAST = "low_contrast"
    """5th to 95th percentile of tissue, share of the grey range."""
    BLURRED = "blurred"
    """Width of the sharpest edges, thousandths of the long side."""
    NOISY = "noisy"
    """Standard deviation of single pixels over the range of tissue."""
    CONE_CUT = "cone_cut"
    """Share of the image's area, 0 to 1."""
    ORIENTATION_MISMATCH = "orientation_mismatch"
    """Width over height."""
    DUPLICATE = "duplicate"
    """Correlation of fine detail with the other image, 0 to 1; 1 for the same file."""
    BORDERED = "bordered"
    """Share of the file's area that is frame, 0 to 1."""
    NOT_A_RADIOGRAPH = "not_a_radiograph"
    """How surely it is something else, 0 to 1."""


class Severity(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"
    """Worth knowing; nothing is lost."""
    WARNING = "warning"
    """Look again: something may be lost."""
    FAIL = "fail"
    """The image very probably does not show what it should."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing seen in an image; a proposal, the person decides.

    Parameters
    ----------
    score : see the members of :class:`FindingCode`
    box : where, in pixels of the image as decoded; None for the whole image
    outline : corners of the place, the same pixels, in order; empty where the box says it all
    of, transform : of a duplicate: the other image's name, and how this one differs from it
    """

    code: FindingCode
    severity: Severity
    score: float
    message: str
    box: Box | None = None
    outline: tuple[tuple[int, int], ...] = ()
    of: str | None = None
    transform: str | None = None
