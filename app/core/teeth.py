"""Teeth: designations, where each stands in the arch, and its usual roots.

Inside the program a tooth is always its ISO 3950 two-digit string: permanent ``"11"`` to ``"48"``, primary
``"51"`` to ``"85"``. Left and right are the patient's. The arch order runs from the patient's right to the
patient's left, which is the viewer's left to right in a mount.

A *place* is where a tooth stands: an arch and a signed ordinal, negative on the patient's right, positive on
the left, 1 at the midline. A primary tooth and its permanent successor share a place.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from app.core.errors import InputError

Tooth = str
ArchName = Literal["upper", "lower"]

UPPER_PERMANENT: tuple[Tooth, ...] = tuple(f"1{d}" for d in range(8, 0, -1)) + tuple(f"2{d}" for d in range(1, 9))
LOWER_PERMANENT: tuple[Tooth, ...] = tuple(f"4{d}" for d in range(8, 0, -1)) + tuple(f"3{d}" for d in range(1, 9))
UPPER_PRIMARY: tuple[Tooth, ...] = tuple(f"5{d}" for d in range(5, 0, -1)) + tuple(f"6{d}" for d in range(1, 6))
LOWER_PRIMARY: tuple[Tooth, ...] = tuple(f"8{d}" for d in range(5, 0, -1)) + tuple(f"7{d}" for d in range(1, 6))

PERMANENT: tuple[Tooth, ...] = UPPER_PERMANENT + LOWER_PERMANENT
PRIMARY: tuple[Tooth, ...] = UPPER_PRIMARY + LOWER_PRIMARY

_PERMANENT = frozenset(PERMANENT)
_PRIMARY = frozenset(PRIMARY)

ROOT_NAMES: dict[str, str] = {
    "MB": "mesiobuccal root",
    "DB": "distobuccal root",
    "P": "palatal root",
    "B": "buccal root",
    "L": "lingual root",
    "M": "mesial root",
    "D": "distal root",
    "R": "root",
}

# Quadrant of each first digit: 1 upper right, 2 upper left, 3 lower left, 4 lower right, and 5-8 the same
# for primary teeth (ISO 3950; wording from memory).
_QUADRANT = {"1": 1, "2": 2, "3": 3, "4": 4, "5": 1, "6": 2, "7": 3, "8": 4}

QUADRANT_NAMES: dict[int, str] = {1: "upper right", 2: "upper left", 3: "lower left", 4: "lower right"}


class Place(NamedTuple):
    """Where a tooth stands: ``ordinal`` is -8…-1 on the patient's right and 1…8 on the left."""

    arch: ArchName
    ordinal: int

    @property
    def rank(self) -> int:
        """Position along the arch from the patient's right, with no gap at the midline (-8…-1, 0…7)."""
        return self.ordinal if self.ordinal < 0 else self.ordinal - 1


def is_permanent(tooth: Tooth) -> bool:
    """Whether the designation is one of the 32 permanent teeth."""
    return tooth in _PERMANENT


def is_primary(tooth: Tooth) -> bool:
    """Whether the designation is one of the 20 primary teeth."""
    return tooth in _PRIMARY


def is_tooth(tooth: object) -> bool:
    """Whether this is an ISO 3950 designation of a tooth."""
    return isinstance(tooth, str) and (tooth in _PERMANENT or tooth in _PRIMARY)


def check_tooth(tooth: object, path: str) -> Tooth:
    """The designation, or an `InputError` at ``path`` that says what designations look like."""
    if isinstance(tooth, str) and is_tooth(tooth):
        return tooth
    shown = f'"{tooth}"' if isinstance(tooth, str) else repr(tooth)
    raise InputError(
        path,
        f'no tooth {shown}. Write an ISO 3950 designation as text: "11" to "48" for permanent teeth, '
        f'"51" to "85" for primary ones',
    )


def quadrant(tooth: Tooth) -> int:
    """1 upper right, 2 upper left, 3 lower left, 4 lower right; primary teeth too."""
    return _QUADRANT[tooth[0]]


def ordinal(tooth: Tooth) -> int:
    """Count from the midline: 1 to 8, for primary teeth 1 to 5."""
    return int(tooth[1])


def arch(tooth: Tooth) -> ArchName:
    """The jaw the tooth stands in."""
    return "upper" if quadrant(tooth) in (1, 2) else "lower"


def place(tooth: Tooth) -> Place:
    """Where the tooth stands along its arch."""
    side = -1 if quadrant(tooth) in (1, 4) else 1
    return Place(arch(tooth), side * ordinal(tooth))


def arch_rank(tooth: Tooth) -> tuple[int, int, int]:
    """Sorts teeth into arch order: upper before lower, the patient's right before left.

    A primary tooth sorts distal to its own successor, so that a retained primary tooth beside its erupted
    successor has a place in the row (common practice, no source).
    """
    where = place(tooth)
    away_from_midline = 1 if is_primary(tooth) else 0
    sideways = away_from_midline if where.ordinal > 0 else -away_from_midline
    return (0 if where.arch == "upper" else 1, where.rank, sideways)


def is_posterior(tooth: Tooth) -> bool:
    """Premolars and molars: everything distal to the canine."""
    return ordinal(tooth) >= 4


def usual_roots(tooth: Tooth) -> tuple[str, ...]:
    """The roots a tooth usually has.

    Standard dental anatomy (from memory; upper first molar three roots and lower molars two are also in the
    sources named in shared/published/roots.json). Supernumerary roots are recorded on the patient's chart.
    """
    upper = arch(tooth) == "upper"
    count_from_midline = ordinal(tooth)
    if is_primary(tooth):
        if count_from_midline >= 4:
            return ("MB", "DB", "P") if upper else ("M", "D")
        return ("R",)
    if count_from_midline >= 6:
        return ("MB", "DB", "P") if upper else ("M", "D")
    if upper and count_from_midline == 4:
        return ("B", "P")
    return ("R",)
