"""Exposures as estimated effective dose: a range in microsievert, from published estimates by receptor and beam.

The estimates are values handed in (`shared/published/dose.json` holds them with their sources); the rule here is
only which of them apply and how ranges add up. Nothing is averaged: lowest and highest published value are the
range, because the studies differ more than any one of them admits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import log10

from app.core.errors import InputError, did_you_mean

COLLIMATIONS = ("rectangular", "round")


@dataclass(frozen=True, kw_only=True)
class DoseRange:
    """A range of effective dose, microsievert."""

    low_usv: float
    high_usv: float

    def times(self, count: int) -> DoseRange:
        """The range of ``count`` such exposures."""
        return DoseRange(low_usv=self.low_usv * count, high_usv=self.high_usv * count)

    def __add__(self, other: DoseRange) -> DoseRange:
        """Both together: lowest with lowest, highest with highest, since what errs in one errs in the other."""
        return DoseRange(low_usv=self.low_usv + other.low_usv, high_usv=self.high_usv + other.high_usv)

    def words(self) -> str:
        """The range as it is written: two significant figures, for it is no more certain than that.

        Examples
        --------
        >>> DoseRange(low_usv=1.25, high_usv=9.483).words()
        '1.3 to 9.5 µSv'
        >>> DoseRange(low_usv=0, high_usv=0).words()
        'none'
        """
        if not self.high_usv:
            return "none"
        low, high = _two_figures(self.low_usv), _two_figures(self.high_usv)
        return f"{low} to {high} µSv" if low != high else f"about {high} µSv"


NOTHING = DoseRange(low_usv=0.0, high_usv=0.0)


def _two_figures(value: float) -> str:
    if value <= 0:
        return "0"
    places = max(0, 1 - int(log10(value) // 1))
    rounded = round(value + 1e-9, 1 - int(log10(value) // 1))
    return f"{rounded:,.{places}f}".replace(",", "\u202f")


@dataclass(frozen=True, kw_only=True)
class DoseEstimate:
    """One published estimate of one examination.

    Parameters
    ----------
    low_usv, high_usv : effective dose of the whole examination, microsievert; equal where one value is published
    images : exposures of the examination, at least 1
    """

    id: str
    examination: str
    receptor: str
    collimation: str
    low_usv: float
    high_usv: float
    images: int
    images_grade: str
    year: int
    grade: str

    @property
    def per_image(self) -> DoseRange:
        """The examination's dose shared out evenly over its images."""
        return DoseRange(low_usv=self.low_usv / self.images, high_usv=self.high_usv / self.images)


@dataclass(frozen=True, kw_only=True)
class DoseTable:
    """The published estimates, and which of them apply to a receptor kind and a collimation.

    Parameters
    ----------
    applies_to : for a receptor kind and a collimation, ids of the estimates that apply
    notes : where the choice of estimates for a receptor kind comes from
    """

    estimates: tuple[DoseEstimate, ...]
    applies_to: Mapping[tuple[str, str], tuple[str, ...]]
    notes: Mapping[str, str]
    cautions: tuple[str, ...]
    sources: Mapping[str, str]

    @property
    def receptor_kinds(self) -> tuple[str, ...]:
        """The kinds of receptor that the table knows."""
        return tuple(dict.fromkeys(kind for kind, _ in self.applies_to))

    def per_exposure(self, receptor_kind: str | None, collimation: str | None) -> DoseRange:
        """The range of one exposure.

        Parameters
        ----------
        receptor_kind : None where it is not recorded: then over every kind, the widest range
        collimation : rectangular or round; None where it is not known: then over both

        Raises
        ------
        InputError
            A kind or a collimation that the table does not know.
        """
        if receptor_kind is not None and receptor_kind not in self.receptor_kinds:
            known = ", ".join(self.receptor_kinds)
            raise InputError(
                "receptor_kind",
                f'no estimate for a receptor of kind "{receptor_kind}". Known are {known}.'
                + did_you_mean(receptor_kind, self.receptor_kinds),
            )
        if collimation is not None and collimation not in COLLIMATIONS:
            raise InputError(
                "collimation",
                f'"{collimation}" is no collimation. Choose rectangular or round.'
                + did_you_mean(collimation, COLLIMATIONS),
            )
        kinds = self.receptor_kinds if receptor_kind is None else (receptor_kind,)
        beams = COLLIMATIONS if collimation is None else (collimation,)
        wanted = {each for kind in kinds for beam in beams for each in self.applies_to[(kind, beam)]}
        found = [each.per_image for each in self.estimates if each.id in wanted]
        return DoseRange(
            low_usv=min(each.low_usv for each in found), high_usv=max(each.high_usv for each in found)
        )


@dataclass(frozen=True, kw_only=True)
class ExposureCount:
    """How many exposures were made with one kind of receptor behind one collimation.

    Parameters
    ----------
    retakes : of these, how many repeated an earlier image
    """

    receptor_kind: str | None
    collimation: str | None
    exposures: int
    retakes: int


def summed(table: DoseTable, counts: Iterable[ExposureCount]) -> tuple[DoseRange, DoseRange]:
    """The range of all exposures, and that of the retakes among them."""
    every, again = NOTHING, NOTHING
    for each in counts:
        one = table.per_exposure(each.receptor_kind, each.collimation)
        every, again = every + one.times(each.exposures), again + one.times(each.retakes)
    return every, again


def average_exposure(table: DoseTable, counts: Iterable[ExposureCount]) -> DoseRange:
    """The range of one exposure as this practice makes them; the widest where it made none."""
    counts = list(counts)
    made = sum(each.exposures for each in counts)
    if not made:
        return table.per_exposure(None, None)
    every, _ = summed(table, counts)
    return DoseRange(low_usv=every.low_usv / made, high_usv=every.high_usv / made)
