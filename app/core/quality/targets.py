"""Published schemes that grade images, their targets, and whether a practice meets them.

Grade and retake are separate facts: an unacceptable image need not be repeated where another image shows the area.
The schemes themselves are data (shared/published/quality_targets.json), each with its source and standing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from app.core.errors import InputError
from app.core.quality.rates import wilson

Bound = Literal["at_least", "at_most"]
Receptors = Literal["any", "digital", "film"]
Verdict = Literal["meets", "does_not_meet", "too_few"]

VERDICT_WORDS: dict[Verdict, str] = {
    "meets": "meets",
    "does_not_meet": "does not meet",
    "too_few": "too few to tell",
}


@dataclass(frozen=True, kw_only=True)
class Grade:
    """One grade of a scheme, in the scheme's own letters, with what earns it."""

    code: str
    title: str
    meaning: str


@dataclass(frozen=True, kw_only=True)
class GradeTarget:
    """Which share of images may, or must, have a grade.

    Parameters
    ----------
    share : 0 to 1
    receptors : the images that it is for
    """

    grade: str
    bound: Bound
    share: float
    receptors: Receptors = "any"

    @property
    def key(self) -> str:
        """Names the target within its scheme."""
        return f"{self.grade}:{self.receptors}"


@dataclass(frozen=True, kw_only=True)
class GradingScheme:
    """A published scheme.

    Parameters
    ----------
    status : whether it still stands
    source : with its grade of verification
    notes : what else its source says, for the page
    """

    id: str
    title: str
    grades: tuple[Grade, ...]
    targets: tuple[GradeTarget, ...]
    status: str
    source: str
    notes: tuple[str, ...] = ()

    def with_own(self, shares: Mapping[str, float]) -> GradingScheme:
        """The scheme with a practice's own targets, by `GradeTarget.key`.

        Raises
        ------
        InputError
            A key that the scheme does not have, or a share outside 0 to 1.
        """
        known = {target.key for target in self.targets}
        for key, share in shares.items():
            if key not in known:
                raise InputError(
                    f"own_targets.{key}", f"this scheme has no such target. It has {', '.join(sorted(known))}"
                )
            if not 0 <= share <= 1:
                raise InputError(f"own_targets.{key}", f"{share:.0%} is no share. Give 0 to 100 per cent")
        return replace(
            self, targets=tuple(replace(each, share=shares.get(each.key, each.share)) for each in self.targets)
        )


def verdict(numerator: int, denominator: int, target: GradeTarget, confidence: float = 0.95) -> Verdict:
    """Whether a target is met, as far as the numbers can tell.

    Only where the whole Wilson interval lies on one side of the target is anything claimed.

    Examples
    --------
    >>> least = GradeTarget(grade="A", bound="at_least", share=0.95)
    >>> verdict(99, 100, least), verdict(980, 1000, least), verdict(80, 100, least), verdict(20, 20, least)
    ('too_few', 'meets', 'does_not_meet', 'too_few')
    """
    interval = wilson(numerator, denominator, confidence)
    if interval is None:
        return "too_few"
    if target.bound == "at_least":
        if interval.low >= target.share:
            return "meets"
        return "does_not_meet" if interval.high < target.share else "too_few"
    if interval.high <= target.share:
        return "meets"
    return "does_not_meet" if interval.low > target.share else "too_few"
