"""Templates: which projections a series is made of, and what a technically good image of each shows.

A slot's ``shows`` speaks of a full dentition; what this patient's dentition does not ask for is passed over.
A supplementary slot (``required`` false) is not part of the series but allowed in a retake plan.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from app.core.errors import InputError, did_you_mean
from app.core.targets import Target, crown, parse_target
from app.core.teeth import Tooth

SlotKind = Literal["bitewing", "periapical", "occlusal"]
SLOT_KINDS: tuple[SlotKind, ...] = ("bitewing", "periapical", "occlusal")

Orientation = Literal["portrait", "landscape"]
ORIENTATIONS: tuple[Orientation, ...] = ("portrait", "landscape")

RECEPTOR_SIZES_MM: dict[int, tuple[int, int]] = {
    0: (22, 35),
    1: (24, 40),
    2: (31, 41),
    3: (27, 54),
    4: (57, 76),
}
"""Nominal outer size of an intraoral receptor, short by long side in mm (shared/published/receptors.json)."""


@dataclass(frozen=True, kw_only=True)
class Receptor:
    """The receptor a slot is taken on.

    Parameters
    ----------
    size : 0 to 4, the trade's nominal sizes
    orientation : which way the long side stands: portrait for front teeth, landscape for back teeth
    """

    size: int
    orientation: Orientation

    def __post_init__(self) -> None:
        if type(self.size) is not int or self.size not in RECEPTOR_SIZES_MM:
            raise InputError("size", f"no receptor size {self.size!r}. Write a number from 0 to 4")
        if self.orientation not in ORIENTATIONS:
            raise InputError(
                "orientation",
                f'no orientation "{self.orientation}". Write portrait or landscape.'
                + did_you_mean(self.orientation, ORIENTATIONS),
            )


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One projection of a series.

    Parameters
    ----------
    id : unique in its template
    kind : bitewing, periapical or occlusal
    title : what a person reads
    shows : targets that a technically good image shows in a full dentition; ``apex:18:*`` for all roots
    receptor : size and orientation, where the template says
    burden : what one more exposure here costs the patient, relative to the others (> 0)
    required : whether the series is complete only with it; False for supplementary projections
    projection : key of the technique guidance of this projection, where there is one
    """

    id: str
    kind: SlotKind
    title: str
    shows: tuple[Target, ...]
    receptor: Receptor | None = None
    burden: float = 1.0
    required: bool = True
    projection: str | None = None

    def __post_init__(self) -> None:
        if not self.id.strip():
            raise InputError("id", "a slot needs a name, like UR-molar")
        if self.kind not in SLOT_KINDS:
            raise InputError(
                "kind",
                f'no kind of projection "{self.kind}". Write bitewing, periapical or occlusal.'
                + did_you_mean(self.kind, SLOT_KINDS),
            )
        if isinstance(self.burden, bool) or not math.isfinite(self.burden) or self.burden <= 0:
            raise InputError("burden", f"{self.burden!r} is not a burden. Write a number above 0, like 1.0")
        for index, target in enumerate(self.shows):
            parse_target(target, f"shows[{index}]")


@dataclass(frozen=True, kw_only=True)
class Template:
    """The projections of a series, in the order they are listed.

    Raises
    ------
    InputError
        When it has no slot, or two slots of one id.
    """

    id: str
    title: str
    slots: tuple[Slot, ...]
    source: str | None = None

    def __post_init__(self) -> None:
        if not self.id.strip():
            raise InputError("id", "a template needs a name, like adult-18")
        if not self.slots:
            raise InputError("slots", "a template needs at least one slot")
        seen: dict[str, int] = {}
        for index, slot in enumerate(self.slots):
            if slot.id in seen:
                raise InputError(
                    f"slots[{index}].id",
                    f'"{slot.id}" is also slots[{seen[slot.id]}]. Give each slot its own id',
                )
            seen[slot.id] = index

    @cached_property
    def _by_id(self) -> dict[str, Slot]:
        return {slot.id: slot for slot in self.slots}

    @property
    def required_slots(self) -> tuple[Slot, ...]:
        """The slots that make up the series, supplementary ones left out."""
        return tuple(slot for slot in self.slots if slot.required)

    def has_slot(self, slot_id: object) -> bool:
        """Whether the template has a slot of this id."""
        return slot_id in self._by_id

    def slot(self, slot_id: str, path: str = "slot") -> Slot:
        """The slot of that id, or an `InputError` at ``path`` that names the nearest one."""
        found = self._by_id.get(slot_id)
        if found is None:
            raise InputError(
                path, f'no slot "{slot_id}" in template "{self.id}".' + did_you_mean(slot_id, self._by_id)
            )
        return found


UPPER_CANINE_PROJECTION = "upper-canine"
"""Projection key of the view whose debt sources differ on."""


def with_canine_view_owing(template: Template, owed: Mapping[Tooth, tuple[Target, ...]]) -> Template:
    """The template whose upper canine views also owe what the practice asks of them.

    Parameters
    ----------
    owed : for each canine, the targets that a view showing its crown then also promises
    """
    return replace(
        template,
        slots=tuple(
            replace(slot, shows=tuple(dict.fromkeys((*slot.shows, *_owed_besides(slot, owed)))))
            if slot.projection == UPPER_CANINE_PROJECTION
            else slot
            for slot in template.slots
        ),
    )


def _owed_besides(slot: Slot, owed: Mapping[Tooth, tuple[Target, ...]]) -> Iterator[Target]:
    for canine, besides in owed.items():
        if crown(canine) in slot.shows:
            yield from besides
