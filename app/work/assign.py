"""Which image was taken for which slot: proposed, kept, and changed later."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from app.core.errors import InputError
from app.core.templates import Slot, Template
from app.storage.practice import Practice
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.audit_series import exposures_of, frozen_template
from app.work.retakes import link_to_order, orders_of, unlink_from_order
from app.work.start_series import open_series
from app.work.text import checked_line

Because = Literal["file name", "retake ordered", "exposure order", "no empty slot"]


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """Where an unassigned image seems to belong.

    Parameters
    ----------
    slot : None where no slot is left
    because : what the proposal rests on
    warning : what speaks against it, in words; empty where nothing does
    """

    exposure_id: str
    slot: str | None
    because: Because
    warning: str


def propose_assignment(scope: PracticeScope, series_id: str) -> list[Proposal]:
    """A slot for each image that has none: by its file name, else by the practice's exposure order.

    Retakes that were ordered come first in the order, as they are what was just exposed.
    """
    row = scope.get(SeriesRow, series_id, "series")
    template = frozen_template(row)
    rows = exposures_of(scope, series_id)
    waiting = [each for each in rows if each.slot is None and each.set_aside_reason is None]
    if not waiting:
        return []
    filled = {each.slot for each in rows if each.slot is not None and each.set_aside_reason is None}
    ordered = [order.slot for order in orders_of(scope, series_id)]
    practice = scope.practice()
    by_name: dict[str, str] = {}
    free = set(ordered) | {slot.id for slot in template.slots if slot.id not in filled}
    for each in waiting:
        named = slot_named_by(each.original_name, template, practice.file_name_patterns)
        if named in free and named not in by_name.values():
            by_name[each.id] = named
    left = [slot for slot in (*ordered, *exposure_order(template, row.template_key, practice)) if slot in free]
    queue = [slot for slot in dict.fromkeys(left) if slot not in by_name.values()]
    images = images_of(scope, waiting)
    proposals: list[Proposal] = []
    for each in waiting:
        because: Because
        slot: str | None
        if each.id in by_name:
            slot, because = by_name[each.id], "file name"
        elif queue:
            slot = queue.pop(0)
            because = "retake ordered" if slot in ordered else "exposure order"
        else:
            slot, because = None, "no empty slot"
        image = images[each.image_id]
        warning = "" if slot is None else orientation_warning(image.width, image.height, template.slot(slot))
        proposals.append(Proposal(exposure_id=each.id, slot=slot, because=because, warning=warning))
    return proposals


def exposure_order(template: Template, template_key: str, practice: Practice) -> list[str]:
    """The required slots in the order in which the practice exposes them; the template's order by default."""
    required = [slot.id for slot in template.required_slots]
    own = [slot for slot in practice.exposure_orders.get(template_key, ()) if slot in required]
    return own + [slot for slot in required if slot not in own]


def slot_named_by(name: str, template: Template, patterns: Sequence[Mapping[str, str]]) -> str | None:
    """The slot that a file's name points at, by the practice's patterns or by the slot's id standing in it.

    Patterns are plain: ``*`` for any letters, ``?`` for one; small and capital letters are alike.
    """
    for pattern in patterns:
        if template.has_slot(pattern["slot"]) and _matches(name, pattern["pattern"]):
            return pattern["slot"]
    plain = _plain(name)
    # The longest id wins, so that UR-molar-oblique is not taken for UR-molar.
    for slot in sorted(template.slots, key=lambda each: -len(each.id)):
        if re.search(rf"(?<![a-z0-9]){re.escape(_plain(slot.id))}(?![a-z0-9])", plain):
            return slot.id
    return None


def _matches(name: str, pattern: str) -> bool:
    words = re.escape(pattern.casefold()).replace(r"\*", ".*").replace(r"\?", ".")
    return re.fullmatch(words, name.casefold()) is not None


def _plain(text: str) -> str:
    """Small letters, and one dash for whatever stands between words."""
    return re.sub(r"[^a-z0-9]+", "-", text.casefold())


def images_of(scope: PracticeScope, rows: Sequence[ExposureRow]) -> dict[str, ImageRow]:
    """The images of some exposures, by their ids, in one query."""
    wanted = {row.image_id for row in rows}
    if not wanted:
        return {}
    return {row.id: row for row in scope.all(scope.select(ImageRow).where(ImageRow.id.in_(wanted)))}  # type: ignore[attr-defined]


def orientation_warning(width: int, height: int, slot: Slot) -> str:
    """Says where an image's shape contradicts how the slot's receptor stands; empty where it does not.

    A square image (sides within 5 %) contradicts nothing.
    """
    if slot.receptor is None or abs(width - height) <= 0.05 * max(width, height):
        return ""
    is_landscape = width > height
    if is_landscape == (slot.receptor.orientation == "landscape"):
        return ""
    lies, stands = ("lies across", "stands upright") if is_landscape else ("stands upright", "lies across")
    return f"This image {lies}, but the receptor {stands} in {slot.title}. Check the slot, or turn the image."


def keep_assignment(
    scope: PracticeScope, actor: Actor, series_id: str, slots: Mapping[str, str | None]
) -> SeriesRow:
    """Put images into slots, all of them or none.

    Parameters
    ----------
    slots : for each exposure's id its slot, or None for no slot; exposures not named stay where they are

    Raises
    ------
    InputError
        Names the exposure: unknown, set aside, an unknown slot, or a slot that would hold two images of which the
        later is no retake.
    """
    require(actor, CHAIRSIDE, "assign images")
    row = open_series(scope, series_id)
    template = frozen_template(row)
    rows = {each.id: each for each in exposures_of(scope, series_id)}
    moving: list[ExposureRow] = []
    for exposure_id, slot in slots.items():
        exposure = rows.get(exposure_id)
        if exposure is None:
            raise InputError("assignment", "an image named here is not of this series. Load the page again")
        if exposure.set_aside_reason is not None:
            raise InputError("assignment", f"image {exposure.position} was set aside. Put it back first")
        if slot is not None:
            template.slot(slot, "assignment")
        if exposure.slot != slot:
            moving.append(exposure)
    for exposure in moving:
        unlink_from_order(scope, exposure)
        exposure.slot = slots[exposure.id]
        # What was reviewed was reviewed against another slot's promises.
        exposure.reviewed = False
        exposure.shortfalls, exposure.also_shows = [], []
        scope.changed(exposure, "shortfalls", "also_shows")
    for exposure in sorted(moving, key=lambda each: each.position):
        if exposure.slot is not None:
            link_to_order(scope, row, exposure)
    _refuse_two_in_one_slot(template, list(rows.values()))
    row.version += 1
    scope.session.add(row)
    scope.session.flush()
    return row


def _refuse_two_in_one_slot(template: Template, rows: Sequence[ExposureRow]) -> None:
    """Each slot holds one image and its retakes."""
    standing: dict[str, list[ExposureRow]] = {}
    for each in rows:
        if each.slot is not None and each.set_aside_reason is None:
            standing.setdefault(each.slot, []).append(each)
    for slot, images in standing.items():
        here = {each.id for each in images}
        firsts = [each for each in images if each.retake_of not in here]
        if len(firsts) > 1:
            positions = " and ".join(str(each.position) for each in firsts)
            raise InputError(
                "assignment",
                f"images {positions} would both stand in {template.slot(slot).title}. Give one another slot, "
                "set it aside, or order a retake first",
            )


def set_aside(scope: PracticeScope, actor: Actor, exposure_id: str, reason: str) -> ExposureRow:
    """A file that is no exposure of this series: kept and listed, not counted."""
    require(actor, CHAIRSIDE, "set images aside")
    exposure = scope.get(ExposureRow, exposure_id, "image")
    row = open_series(scope, exposure.series_id)
    exposure.set_aside_reason = checked_line(reason, "reason")
    scope.because(exposure.set_aside_reason)
    exposure.set_aside_by = actor.staff_id
    unlink_from_order(scope, exposure)
    row.version += 1
    scope.session.add(row)
    return exposure


def put_back(scope: PracticeScope, actor: Actor, exposure_id: str) -> ExposureRow:
    """Undo a setting aside; the image has no slot until somebody gives it one."""
    require(actor, CHAIRSIDE, "put images back")
    exposure = scope.get(ExposureRow, exposure_id, "image")
    row = open_series(scope, exposure.series_id)
    exposure.set_aside_reason = exposure.set_aside_by = None
    exposure.slot = None
    exposure.reviewed = False
    row.version += 1
    scope.session.add(exposure)
    scope.session.add(row)
    return exposure
