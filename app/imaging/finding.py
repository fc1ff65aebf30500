"""What a measurement says to a person."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import exp, log

from app.core.exposures import ShortfallCode
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
    INVERTED = "inverted"
    """How clearly dark and light are exchanged, 0 to 1."""
    DOUBLE_EXPOSED = "double_exposed"
    """Share of the edges' places where edges cross, or likeness of the picture to itself moved aside, 0 to 1."""
    LINES = "lines"
    """Length of the line over the long side of the image."""
    TEXT_STRIP = "text_strip"
    """Share of the file's area that text takes, 0 to 1."""
    SATURATED = "saturated"
    """Share of the area that is clipped without being metal or open space, 0 to 1."""


class Severity(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"
    """Worth knowing; nothing is lost."""
    WARNING = "warning"
    """Look again: something may be lost."""
    FAIL = "fail"
    """The image very probably does not show what it should."""


PROPOSES: Mapping[FindingCode, ShortfallCode] = {
    FindingCode.BLANK: ShortfallCode.BLANK,
    FindingCode.TOO_LIGHT: ShortfallCode.TOO_LIGHT,
    FindingCode.TOO_DARK: ShortfallCode.TOO_DARK,
    FindingCode.BLURRED: ShortfallCode.BLURRED,
    FindingCode.CONE_CUT: ShortfallCode.CONE_CUT,
    FindingCode.DOUBLE_EXPOSED: ShortfallCode.DOUBLE_EXPOSED,
    FindingCode.LINES: ShortfallCode.ARTIFACT,
}
"""Under which shortfall a reviewer would record it. The others tell of the file, or of no single fault."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing seen in an image; a proposal, the person decides.

    Parameters
    ----------
    score : see the members of :class:`FindingCode`
    box : where, in pixels of the image as decoded; None for the whole image
    outline : corners of the place, the same pixels, in order; None where the box says it all
    confidence : how sure, 0 to 1: see :func:`sure`. A scale to rank by; how
        often a code is right is measured apart.
    proposes : value of the :class:`ShortfallCode` to offer; None where there is none to offer
    of, transform : of a duplicate: the other image's name, and how this one differs from it
    """

    code: FindingCode
    severity: Severity
    score: float
    message: str
    box: Box | None = None
    outline: tuple[tuple[float, float], ...] | None = None
    confidence: float = 0.5
    proposes: str | None = None
    of: str | None = None
    transform: str | None = None


def proposal(code: FindingCode) -> str | None:
    """The shortfall that a finding of this code offers."""
    found = PROPOSES.get(code)
    return None if found is None else found.value


def graded(value: float, warning: float, fail: float) -> Severity | None:
    """The severity of a value; the fault grows from ``warning`` towards ``fail``, whichever is larger."""
    sign = 1.0 if fail >= warning else -1.0
    if sign * value >= sign * fail:
        return Severity.FAIL
    return Severity.WARNING if sign * value >= sign * warning else None


def sure(value: float, warning: float, fail: float) -> float:
    """How sure a graded finding is: 0.5 at the threshold of a warning, 0.9 at that of a failure, towards 1 beyond.

    Examples
    --------
    >>> round(sure(0.2, 0.2, 0.4), 3), round(sure(0.4, 0.2, 0.4), 3), round(sure(0.1, 0.3, 0.2), 3)
    (0.5, 0.9, 0.988)
    """
    steps = (value - warning) / (fail - warning)
    return 1.0 / (1.0 + exp(-max(-30.0, min(30.0, steps * log(9.0)))))
