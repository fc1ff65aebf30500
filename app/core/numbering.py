"""Shown designations: the only place that knows any system other than ISO 3950.

Sources: the universal numbers of permanent teeth follow the HL7 code system
ADAUniversalToothDesignationSystem (1 = 18 … 10 = 22 seen there, the rest by the same count); letters A-T for
primary teeth and the quadrant notation (UR6, LLC) are from memory and agree with the SNOMED names in
DICOM CID 4018 and 4019.

A bare number never says which system it belongs to (universal supernumerary 51-82 look like ISO primary
teeth), so nothing here guesses: reading needs the system named.
"""

from __future__ import annotations

from enum import StrEnum

from app.core.teeth import (
    LOWER_PERMANENT,
    LOWER_PRIMARY,
    UPPER_PERMANENT,
    UPPER_PRIMARY,
    Tooth,
    is_primary,
    quadrant,
)


class Numbering(StrEnum):
    """Which designations a person is shown."""

    ISO3950 = "iso3950"
    """Two digits: quadrant, then count from the midline."""

    UNIVERSAL = "universal"
    """1-32 from the upper right third molar round to the lower right; letters A-T for primary teeth."""

    QUADRANT = "quadrant"
    """UR, UL, LL or LR with the count from the midline: a digit, or a letter A-E for primary teeth."""


# Universal numbers run along the upper arch from the patient's right, then back along the lower from the left.
_UNIVERSAL: dict[Tooth, str] = {
    **{t: str(n) for n, t in enumerate(UPPER_PERMANENT + tuple(reversed(LOWER_PERMANENT)), start=1)},
    **{t: chr(ord("A") + n) for n, t in enumerate(UPPER_PRIMARY + tuple(reversed(LOWER_PRIMARY)))},
}
_QUADRANT_LETTERS = {1: "UR", 2: "UL", 3: "LL", 4: "LR"}


def shown(tooth: Tooth, numbering: Numbering) -> str:
    """The designation that a person reads.

    Examples
    --------
    >>> shown("17", Numbering.UNIVERSAL), shown("55", Numbering.QUADRANT), shown("36", Numbering.ISO3950)
    ('2', 'URE', '36')
    """
    if numbering is Numbering.UNIVERSAL:
        return _UNIVERSAL[tooth]
    if numbering is Numbering.QUADRANT:
        last = tooth[1] if not is_primary(tooth) else chr(ord("A") + int(tooth[1]) - 1)
        return _QUADRANT_LETTERS[quadrant(tooth)] + last
    return tooth
