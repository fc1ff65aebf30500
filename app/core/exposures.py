"""Exposures and their shortfalls: what an image does not show of what its slot promises.

An exposure is never undone: it was radiation. A retake is a further exposure, linked to the one it repeats.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.core.targets import KINDS, Target, TargetKind


class ShortfallCode(StrEnum):
    """Why an image does not show something; the trade's technique errors."""

    OVERLAP = "overlap"
    """Neighbouring crowns superimposed: contacts closed."""
    APEX_CUT_OFF = "apex_cut_off"
    """Root ends beyond the edge of the image."""
    FORESHORTENED = "foreshortened"
    """Teeth too short, blunt: the vertical angle too steep."""
    ELONGATED = "elongated"
    """Teeth too long: the vertical angle too flat."""
    CROWN_CUT_OFF = "crown_cut_off"
    """Incisal or occlusal edges beyond the edge of the image."""
    WRONG_REGION = "wrong_region"
    """The receptor was placed elsewhere."""
    CONE_CUT = "cone_cut"
    """Part of the receptor lay outside the beam."""
    BLURRED = "blurred"
    """Patient, tube or receptor moved."""
    TOO_LIGHT = "too_light"
    """Underexposed."""
    TOO_DARK = "too_dark"
    """Overexposed."""
    DOUBLE_EXPOSED = "double_exposed"
    """Two exposures on one receptor."""
    REVERSED_RECEPTOR = "reversed_receptor"
    """The receptor's back faced the tube."""
    BENT_RECEPTOR = "bent_receptor"
    """The receptor was bent or creased."""
    ARTIFACT = "artifact"
    """Something in the picture that is not the patient's tissue."""
    BLANK = "blank"
    """Nothing recorded."""


_EVERYTHING: frozenset[TargetKind] = frozenset(KINDS)
_APICES: frozenset[TargetKind] = frozenset({"apex"})
_CROWN_SURFACES: frozenset[TargetKind] = frozenset({"crown", "contact", "distal"})
_CONTACTS: frozenset[TargetKind] = frozenset({"contact"})

TAKES_AWAY: dict[ShortfallCode, frozenset[TargetKind]] = dict.fromkeys(ShortfallCode, _EVERYTHING) | {
    ShortfallCode.OVERLAP: _CONTACTS,
    ShortfallCode.APEX_CUT_OFF: _APICES,
    ShortfallCode.FORESHORTENED: _APICES,
    ShortfallCode.ELONGATED: _APICES,
    ShortfallCode.CROWN_CUT_OFF: _CROWN_SURFACES,
}
"""Kinds of target that a shortfall takes away when it names none: everything, unless the code says less."""


@dataclass(frozen=True, kw_only=True)
class Shortfall:
    """One fault of one image.

    Parameters
    ----------
    code : the technique error
    targets : what it took away, each one that the slot shows; None for everything its code takes away
    """

    code: ShortfallCode
    targets: tuple[Target, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """One image as reviewed.

    Parameters
    ----------
    id : unique in its series
    slot : the slot it was taken for; None while nobody has assigned it, when it promises nothing
    reviewed : whether a person has confirmed what it shows; an exposure not reviewed covers nothing
    shortfalls : what it does not show, and why
    also_shows : targets seen beyond what the slot promises
    retake_of : id of the earlier exposure that this one repeats
    """

    id: str
    slot: str | None
    reviewed: bool = False
    shortfalls: tuple[Shortfall, ...] = ()
    also_shows: tuple[Target, ...] = ()
    retake_of: str | None = None
