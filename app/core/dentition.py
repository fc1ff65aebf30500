"""The patient's dentition: the state of each position, and what a series must therefore show.

What a state asks for:

==============  ======  ==========================  =========  ======
state           crown   apices                      contacts   ridge
==============  ======  ==========================  =========  ======
present         yes     yes                         yes        no
implant         yes     one, root ``R``             yes        no
pontic          yes     no                          yes        yes
root_remnant    no      yes                         no         no
unerupted       yes     yes                         no         no
missing         no      no                          no         yes
==============  ======  ==========================  =========  ======

Contacts are asked for between neighbouring places whose teeth both have one, and across a space that has
closed after an extraction. The last tooth with contacts of each quadrant owes its free distal surface.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import Literal, NamedTuple

from app.core import targets
from app.core.errors import InputError, did_you_mean
from app.core.targets import Target
from app.core.teeth import (
    PERMANENT,
    PRIMARY,
    ROOT_NAMES,
    Tooth,
    arch,
    arch_rank,
    check_tooth,
    place,
    quadrant,
    usual_roots,
)

DentitionKind = Literal["permanent", "mixed", "primary"]
DENTITION_KINDS: tuple[DentitionKind, ...] = ("permanent", "mixed", "primary")


class ToothState(StrEnum):
    """What stands at a position."""

    PRESENT = "present"
    """An erupted natural tooth."""
    IMPLANT = "implant"
    """A fixture with its crown; the fixture's end counts as its one apex."""
    PONTIC = "pontic"
    """The tooth of a bridge, over bone without a root."""
    ROOT_REMNANT = "root_remnant"
    """A root without a crown."""
    UNERUPTED = "unerupted"
    """A tooth still in the bone, impacted ones too."""
    MISSING = "missing"
    """No tooth."""


class Asks(NamedTuple):
    """What one state asks for."""

    crown: bool
    apices: bool
    contacts: bool
    ridge: bool


ASKED_OF_STATE: dict[ToothState, Asks] = {
    ToothState.PRESENT: Asks(True, True, True, False),
    ToothState.IMPLANT: Asks(True, True, True, False),
    ToothState.PONTIC: Asks(True, False, True, True),
    ToothState.ROOT_REMNANT: Asks(False, True, False, False),
    ToothState.UNERUPTED: Asks(True, True, False, False),
    ToothState.MISSING: Asks(False, False, False, True),
}


@dataclass(frozen=True, kw_only=True)
class Dentition:
    """A patient's teeth, valid by construction.

    Parameters
    ----------
    kind : permanent, mixed or primary
    states : state of each named position; the others are present (permanent: 32 positions, primary: 20),
        and in a mixed dentition absent from the chart
    roots : roots of teeth that differ from the usual anatomy
    closed_spaces : pairs of teeth between which a space has closed; put into arch order here

    Raises
    ------
    InputError
        Names the position, root or pair that cannot be, and the mend.
    """

    kind: DentitionKind = "permanent"
    states: Mapping[Tooth, ToothState] = field(default_factory=dict)
    roots: Mapping[Tooth, tuple[str, ...]] = field(default_factory=dict)
    closed_spaces: tuple[tuple[Tooth, Tooth], ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in DENTITION_KINDS:
            raise InputError(
                "dentition_kind",
                f'no dentition kind "{self.kind}". Write permanent, mixed or primary.'
                + did_you_mean(self.kind, DENTITION_KINDS),
            )
        for tooth, state in self.states.items():
            self._check_state(tooth, state)
        for tooth, codes in self.roots.items():
            self._check_roots(tooth, codes)
        ordered = tuple(
            self._check_space(pair, f"closed_spaces[{index}]") for index, pair in enumerate(self.closed_spaces)
        )
        object.__setattr__(self, "closed_spaces", tuple(dict.fromkeys(ordered)))

    def positions(self) -> tuple[Tooth, ...]:
        """Every position of the chart, in arch order, upper before lower."""
        if self.kind == "permanent":
            return PERMANENT
        if self.kind == "primary":
            return PRIMARY
        return tuple(sorted(self.states, key=arch_rank))

    def state(self, tooth: Tooth) -> ToothState | None:
        """The state of a position; None where the chart has no such position."""
        named = self.states.get(tooth)
        if named is not None or self.kind == "mixed":
            return named
        standing = PERMANENT if self.kind == "permanent" else PRIMARY
        return ToothState.PRESENT if tooth in standing else None

    def asks(self, tooth: Tooth) -> Asks:
        """What the position asks for; nothing where the chart has no such position."""
        state = self.state(tooth)
        return ASKED_OF_STATE[state] if state is not None else Asks(False, False, False, False)

    def roots_of(self, tooth: Tooth) -> tuple[str, ...]:
        """The roots of the tooth as charted, else as usual; an implant has its one end, ``R``."""
        if self.state(tooth) is ToothState.IMPLANT:
            return ("R",)
        return tuple(self.roots.get(tooth, usual_roots(tooth)))

    def expand(self, target: Target) -> tuple[Target, ...]:
        """The target itself; for ``apex:NN:*`` one target for each root of this patient's tooth."""
        if targets.root(target) != targets.EVERY_ROOT:
            return (target,)
        (tooth,) = targets.teeth(target)
        return tuple(targets.apex(tooth, code) for code in self.roots_of(tooth))

    def _check_state(self, tooth: Tooth, state: object) -> None:
        check_tooth(tooth, f"dentition.{tooth}")
        if not isinstance(state, ToothState):
            known = [s.value for s in ToothState]
            raise InputError(
                f"dentition.{tooth}",
                f'no state "{state}". Write one of {", ".join(known)}.' + did_you_mean(state, known),
            )
        expected = {"permanent": PERMANENT, "primary": PRIMARY, "mixed": PERMANENT + PRIMARY}[self.kind]
        if tooth not in expected:
            raise InputError(
                f"dentition.{tooth}",
                f"tooth {tooth} does not belong to a {self.kind} dentition. "
                'Set dentition_kind to "mixed" and name every position, or remove this one',
            )

    def _check_roots(self, tooth: Tooth, codes: tuple[str, ...]) -> None:
        path = f"roots.{tooth}"
        check_tooth(tooth, path)
        if self.kind != "mixed" and tooth not in self.positions():
            raise InputError(path, f"tooth {tooth} does not belong to a {self.kind} dentition. Remove it")
        if not codes:
            raise InputError(path, f"no roots named. List at least one of {', '.join(ROOT_NAMES)}, or remove it")
        for code in codes:
            if code not in ROOT_NAMES:
                raise InputError(
                    path,
                    f'no root "{code}". Write one of {", ".join(ROOT_NAMES)}.' + did_you_mean(code, ROOT_NAMES),
                )
        if len(set(codes)) != len(codes):
            raise InputError(path, f"a root is named twice in {', '.join(codes)}. Name each once")
        if "R" in codes and len(codes) > 1:
            raise InputError(
                path, "R is the only root of a tooth; it cannot stand beside others. Name them all, or R"
            )

    def _check_space(self, pair: tuple[Tooth, Tooth], path: str) -> tuple[Tooth, Tooth]:
        for tooth in pair:
            check_tooth(tooth, path)
        first, second = sorted(pair, key=arch_rank)
        shown = f'"{pair[0]}-{pair[1]}"'
        if arch(first) != arch(second):
            raise InputError(path, f"{shown} joins an upper and a lower tooth. A closed space lies in one arch")
        start, end = place(first).rank, place(second).rank
        if end - start < 2:
            raise InputError(
                path, f"{shown} has no position between. Name the two teeth that now touch, like 15-13"
            )
        for tooth in (first, second):
            if not self.asks(tooth).contacts:
                raise InputError(
                    path,
                    f"{shown}: position {tooth} is {self._state_words(tooth)} and has no contact. "
                    "Both ends of a closed space are teeth that touch: correct the pair or the state",
                )
        for tooth in self.between(first, second):
            if self.asks(tooth).contacts:
                raise InputError(
                    path,
                    f"{shown}: position {tooth} between them is {self._state_words(tooth)}. A space can only "
                    "close where no tooth with contacts stands: correct the pair or the state",
                )
        return (first, second)

    def between(self, first: Tooth, second: Tooth) -> tuple[Tooth, ...]:
        """The positions of the chart strictly between two teeth of one arch, in arch order."""
        start, end = place(first).rank, place(second).rank
        jaw = arch(first)
        return tuple(t for t in self.positions() if arch(t) == jaw and start < place(t).rank < end)

    def _state_words(self, tooth: Tooth) -> str:
        state = self.state(tooth)
        return state.value if state is not None else "not on the chart"


def asked_targets(dentition: Dentition) -> tuple[Target, ...]:
    """Everything a series must show of this dentition, in arch order, tooth by tooth.

    Returns
    -------
    tuple of Target
        Upper arch then lower, from the patient's right to the left; for each position its crown, apices,
        ridge, distal, then its contacts with teeth further to the patient's left. No target twice.
    """
    closed_over = {tooth for pair in dentition.closed_spaces for tooth in dentition.between(*pair)}
    distals = set(_last_of_each_quadrant(dentition))
    contacts: dict[Tooth, list[Target]] = {}
    for first, second in (*_neighbours(dentition), *dentition.closed_spaces):
        contacts.setdefault(first, []).append(targets.contact(first, second))
    asked: list[Target] = []
    for tooth in dentition.positions():
        wants = dentition.asks(tooth)
        if wants.crown:
            asked.append(targets.crown(tooth))
        if wants.apices:
            asked.extend(targets.apex(tooth, code) for code in dentition.roots_of(tooth))
        if wants.ridge and tooth not in closed_over:
            asked.append(targets.ridge(tooth))
        if tooth in distals:
            asked.append(targets.distal(tooth))
        asked.extend(contacts.get(tooth, ()))
    return tuple(dict.fromkeys(asked))


def _with_contacts(dentition: Dentition) -> Iterable[Tooth]:
    return (tooth for tooth in dentition.positions() if dentition.asks(tooth).contacts)


def _neighbours(dentition: Dentition) -> Iterable[tuple[Tooth, Tooth]]:
    """Pairs that stand side by side: at adjacent places, or at one place (a tooth and its successor)."""
    standing = list(_with_contacts(dentition))
    for first, second in pairwise(standing):
        if arch(first) == arch(second) and place(second).rank - place(first).rank <= 1:
            yield (first, second)


def _last_of_each_quadrant(dentition: Dentition) -> Iterable[Tooth]:
    last: dict[int, Tooth] = {}
    for tooth in _with_contacts(dentition):
        # In arch order the right quadrants run towards the midline and the left ones away from it.
        if quadrant(tooth) in (1, 4):
            last.setdefault(quadrant(tooth), tooth)
        else:
            last[quadrant(tooth)] = tooth
    return last.values()
