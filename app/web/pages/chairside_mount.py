"""The mount: the slots of a series laid out as the mouth is seen from the front.

Upper views above, lower views below, bitewings between them in the line of the bite; the patient's right is on the
viewer's left. Supplementary views stand in a row of their own, and only where one is taken, ordered or planned.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.core import targets
from app.core.teeth import arch, place
from app.core.templates import RECEPTOR_SIZES_MM, Slot
from app.storage.series import ExposureRow
from app.web.pages.chairside_chart import fault_name
from app.web.pages.chairside_facts import SeriesFacts
from app.web.pages.chairside_findings import finding_sign

SIGNS = {
    "good": "shows all it should",
    "faulty": "does not show all it should",
    "waiting": "not reviewed",
    "loose": "in no slot yet",
    "aside": "set aside",
}
"""What each sign on an image says."""


@dataclass(frozen=True, kw_only=True)
class Film:
    """One image as it lies in the mount.

    Parameters
    ----------
    sign : key of `SIGNS`
    src, full : addresses of the small picture and of the whole one
    turns : quarter turns clockwise
    faults : its shortfalls in words, empty where it has none
    found : what the program found and nobody has decided on, in words; empty where there is nothing
    """

    id: str
    position: int
    name: str
    file_name: str
    sign: str
    sign_words: str
    src: str
    full: str
    width: int
    height: int
    turns: int
    mirrored: bool
    inverted: bool
    faults: str
    found: str
    slot: str | None

    @property
    def classes(self) -> str:
        """How the picture is turned, as classes of its element."""
        words = [f"turn-{self.turns}"] if self.turns else []
        words += ["mirrored"] if self.mirrored else []
        words += ["inverted"] if self.inverted else []
        return " ".join(words)

    @property
    def lies(self) -> str:
        """Portrait, landscape or square, as it is shown."""
        wide, tall = (self.height, self.width) if self.turns % 2 else (self.width, self.height)
        if abs(wide - tall) <= 0.05 * max(wide, tall):
            return "square"
        return "landscape" if wide > tall else "portrait"


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One slot of the mount.

    Parameters
    ----------
    film : its latest image
    earlier : images that the latest repeats, newest first
    short : its title without what its place says
    ordered : whether a retake is waited for
    takes_file : whether a file may be loaded into it now
    """

    slot: str
    title: str
    short: str
    kind: str
    orientation: str
    size: int
    required: bool
    film: Film | None
    earlier: tuple[Film, ...]
    ordered: bool
    takes_file: bool
    gap_after: bool


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of the mount, from the patient's right to the left."""

    name: str
    title: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, kw_only=True)
class Mount:
    """The whole mount; ``breadth`` is the widest row in millimetres of receptor, for the size on the screen."""

    rows: tuple[Row, ...]
    breadth: int

    @property
    def class_name(self) -> str:
        """The class that scales the mount to its widest row."""
        return next(f"breadth-{step}" for step in (180, 260, 300, 340, 400, 9999) if self.breadth <= step)


ROW_TITLES = {"upper": "Upper jaw", "bite": "Bitewings", "lower": "Lower jaw", "further": "Further views"}


def film_of(facts: SeriesFacts, row: ExposureRow) -> Film:
    """An image as the pages show it."""
    image = facts.images[row.image_id]
    sign = sign_of(row)
    faults = ", ".join(dict.fromkeys(fault_name(each["code"]) for each in row.shortfalls)) if row.reviewed else ""
    found = finding_sign(facts, row) if facts.is_open else ""
    return Film(
        id=row.id,
        position=row.position,
        name=facts.image_name(row),
        file_name=row.original_name,
        sign=sign,
        sign_words=SIGNS[sign]
        + (f": {faults}" if faults else "")
        + (f"; the program sees: {found}" if found else ""),
        src=f"/images/{image.sha256}?side=320",
        full=f"/images/{image.sha256}",
        width=image.width,
        height=image.height,
        turns=int(row.view.get("quarter_turns", 0)),
        mirrored=bool(row.view.get("mirrored", False)),
        inverted=bool(row.view.get("inverted", False)),
        faults=faults,
        found=found,
        slot=row.slot,
    )


def sign_of(row: ExposureRow) -> str:
    """Which sign an image bears."""
    if row.set_aside_reason is not None:
        return "aside"
    if row.slot is None:
        return "loose"
    if not row.reviewed:
        return "waiting"
    return "faulty" if row.shortfalls else "good"


def mount_of(facts: SeriesFacts) -> Mount:
    """The mount of a series as it stands."""
    planned = {each.slot for each in facts.audited.audit.plan.exposures} if facts.is_open else set()
    ordered = {order.slot for order in facts.orders}
    rows: dict[str, list[tuple[float, Cell]]] = {name: [] for name in ROW_TITLES}
    for slot in facts.template.slots:
        taken = facts.in_slot(slot.id)
        if not slot.required and not taken and slot.id not in ordered and slot.id not in planned:
            continue
        row, across = where_in_mouth(slot)
        rows[row if slot.required else "further"].append((across, _cell(facts, slot, taken, slot.id in ordered)))
    made = tuple(
        Row(name=name, title=ROW_TITLES[name], cells=_in_order(cells)) for name, cells in rows.items() if cells
    )
    return Mount(rows=made, breadth=max((_breadth(row.cells) for row in made), default=180))


def where_in_mouth(slot: Slot) -> tuple[str, float]:
    """The row of a slot, and its middle across the mouth (negative on the patient's right)."""
    teeth = [tooth for target in slot.shows for tooth in targets.teeth(target)]
    across = sum(place(tooth).ordinal for tooth in teeth) / len(teeth) if teeth else 0.0
    jaws = {arch(tooth) for tooth in teeth}
    if slot.kind == "bitewing" or len(jaws) != 1:
        return "bite", across
    return jaws.pop(), across


_SAID_BY_THE_PLACE = frozenset({"upper", "lower", "right", "left", "bitewing", "vertical"})


def short_title(slot: Slot) -> str:
    """The title without the words that the slot's place in the mount says already."""
    words = [word for word in slot.title.split() if word.lower() not in _SAID_BY_THE_PLACE]
    return " ".join(words) if words else slot.title


def _cell(facts: SeriesFacts, slot: Slot, taken: list[ExposureRow], ordered: bool) -> Cell:
    films = [film_of(facts, each) for each in reversed(taken)]
    return Cell(
        slot=slot.id,
        title=slot.title,
        short=short_title(slot) if slot.required else slot.title,
        kind=slot.kind,
        orientation=slot.receptor.orientation if slot.receptor is not None else "landscape",
        size=slot.receptor.size if slot.receptor is not None else 2,
        required=slot.required,
        film=films[0] if films else None,
        earlier=tuple(films[1:]),
        ordered=ordered,
        takes_file=facts.is_open and (ordered or not films),
        gap_after=False,
    )


def _in_order(cells: Iterable[tuple[float, Cell]]) -> tuple[Cell, ...]:
    """From right to left, with room at the midline where no view stands on it."""
    ordered = sorted(cells, key=lambda each: each[0])
    made: list[Cell] = []
    for index, (across, cell) in enumerate(ordered):
        following = ordered[index + 1][0] if index + 1 < len(ordered) else None
        parted = following is not None and across < -0.5 and following > 0.5
        made.append(cell if not parted else replace(cell, gap_after=True))
    return tuple(made)


def _breadth(cells: tuple[Cell, ...]) -> int:
    return sum(RECEPTOR_SIZES_MM[cell.size][0 if cell.orientation == "portrait" else 1] for cell in cells)
