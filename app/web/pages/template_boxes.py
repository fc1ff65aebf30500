"""The boxes of a slot's form: one for each target that a view may show, by arch and tooth."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from app.core.numbering import Numbering, shown
from app.core.targets import EVERY_ROOT, Target, apex, contact, crown, distal, ridge
from app.core.teeth import LOWER_PERMANENT, LOWER_PRIMARY, UPPER_PERMANENT, UPPER_PRIMARY

ROWS = (
    ("Upper permanent", UPPER_PERMANENT),
    ("Lower permanent", LOWER_PERMANENT),
    ("Upper primary", UPPER_PRIMARY),
    ("Lower primary", LOWER_PRIMARY),
)


@dataclass(frozen=True, kw_only=True)
class Box:
    """One target that can be ticked; ``name`` tells a screen reader which."""

    target: str
    name: str
    ticked: bool


@dataclass(frozen=True, kw_only=True)
class ToothBoxes:
    """The boxes of one tooth; ``contact`` with the next tooth towards the patient's left, if there is one."""

    label: str
    crown: Box
    apices: Box
    contact: Box | None
    distal: Box
    ridge: Box


@dataclass(frozen=True, kw_only=True)
class BoxRow:
    """The teeth of one arch; ``open`` where something in it is ticked."""

    title: str
    open: bool
    teeth: tuple[ToothBoxes, ...]


def boxes_of(shows: frozenset[str], numbering: Numbering) -> tuple[BoxRow, ...]:
    """A box for each target that a slot may show, ticked where it does."""
    rows: list[BoxRow] = []
    for title, arch in ROWS:
        following: dict[str, str] = dict(pairwise(arch))
        cells: list[ToothBoxes] = []
        for tooth in arch:
            name, after = shown(tooth, numbering), following.get(tooth)

            def box(target: Target, words: str) -> Box:
                return Box(target=target, name=words, ticked=target in shows)

            cells.append(
                ToothBoxes(
                    label=name,
                    crown=box(crown(tooth), f"crown of {name}"),
                    apices=box(apex(tooth, EVERY_ROOT), f"apices of {name}"),
                    contact=box(contact(tooth, after), f"contact {name}–{shown(after, numbering)}")
                    if after
                    else None,
                    distal=box(distal(tooth), f"distal of {name}"),
                    ridge=box(ridge(tooth), f"ridge at {name}"),
                )
            )
        every = [
            each
            for cell in cells
            for each in (cell.crown, cell.apices, cell.contact, cell.distal, cell.ridge)
            if each
        ]
        shown_first = title == "Upper permanent" and not shows
        rows.append(
            BoxRow(title=title, open=shown_first or any(each.ticked for each in every), teeth=tuple(cells))
        )
    return tuple(rows)


def boxed() -> frozenset[str]:
    """Every target that has a box."""
    rows = boxes_of(frozenset(), Numbering.ISO3950)
    return frozenset(
        each.target
        for row in rows
        for cell in row.teeth
        for each in (cell.crown, cell.apices, cell.contact, cell.distal, cell.ridge)
        if each is not None
    )
