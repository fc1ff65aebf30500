"""The advice that goes with a retake: what it must show, and how to correct the fault that lost it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from app.core import targets
from app.core.exposures import ShortfallCode
from app.core.numbering import Numbering, shown
from app.core.targets import Target
from app.core.teeth import ROOT_NAMES
from app.core.templates import Slot


@dataclass(frozen=True, kw_only=True)
class Corrections:
    """How technique errors are corrected, and how each projection is taken (both with their sources in shared/).

    Parameters
    ----------
    names : what a person reads for each shortfall code
    corrections : one or two imperative sentences for each shortfall code
    regions : for each shortfall code, what to add for a projection key
    placements : receptor placement and beam for each projection key, for a view not taken yet
    """

    names: Mapping[ShortfallCode, str] = field(default_factory=dict)
    corrections: Mapping[ShortfallCode, str] = field(default_factory=dict)
    regions: Mapping[ShortfallCode, Mapping[str, str]] = field(default_factory=dict)
    placements: Mapping[str, str] = field(default_factory=dict)

    def sentence(self, code: ShortfallCode, projection: str | None) -> str:
        """The fault by name and how it is corrected, with what this projection adds."""
        name = self.names.get(code, code.value.replace("_", " "))
        correction = self.corrections.get(code)
        if correction is None:
            return f"Correct: {name}."
        addition = self.regions.get(code, {}).get(projection or "", "")
        return f"{name}: {correction} {addition}".rstrip()


NO_CORRECTIONS = Corrections()

_PLURALS = {
    "crown": "crowns",
    "apex": "apices",
    "contact": "contacts",
    "distal": "distal surfaces",
    "ridge": "ridges",
}


def advice_for(
    *,
    slot: Slot,
    closes: Sequence[Target],
    codes: Sequence[ShortfallCode],
    numbering: Numbering,
    corrections: Corrections,
) -> str:
    """What the retake must show and how, in a few short sentences.

    Parameters
    ----------
    closes : the gaps that it must close
    codes : the shortfalls that lost them, each once; empty where the view was never taken
    """
    sentences = [f"Show {in_words(closes, numbering)}."]
    if not codes:
        placement = corrections.placements.get(slot.projection or "")
        if placement:
            sentences.append(placement)
    sentences.extend(corrections.sentence(code, slot.projection) for code in codes)
    return " ".join(sentences)


def in_words(some: Sequence[Target], numbering: Numbering) -> str:
    """Targets grouped by kind, each kind named once.

    Examples
    --------
    >>> in_words([Target("contact:17-16"), Target("apex:16:MB"), Target("apex:16:P")], Numbering.ISO3950)
    'contact 17–16; apices 16 mesiobuccal, 16 palatal'
    """
    ordered = sorted(some, key=lambda target: _ORDER[targets.kind(target)])
    groups: list[str] = []
    for kind, members in groupby(ordered, key=targets.kind):
        names = [_short(target, numbering) for target in members]
        groups.append(f"{kind if len(names) == 1 else _PLURALS[kind]} {', '.join(names)}")
    return "; ".join(groups)


_ORDER = {"contact": 0, "distal": 1, "crown": 2, "apex": 3, "ridge": 4}


def _short(target: Target, numbering: Numbering) -> str:
    names = "–".join(shown(tooth, numbering) for tooth in targets.teeth(target))
    code = targets.root(target)
    if code is None or code == "R":
        return names
    return f"{names} {ROOT_NAMES[code].removesuffix(' root')}"
