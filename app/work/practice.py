"""What the practice has chosen: numbering, policies, criteria, exposure orders, file names, rooms, receptors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from app.core.errors import InputError, did_you_mean
from app.core.numbering import Numbering
from app.core.series import POSTERIOR_CONTACTS
from app.core.templates import RECEPTOR_SIZES_MM
from app.exchange.shared_data import criteria
from app.storage.practice import Practice, Receptor, Room
from app.storage.practice_scope import PracticeScope
from app.work.actor import DENTISTS, Actor, require
from app.work.templates import template_of
from app.work.text import checked_line

RECEPTOR_KINDS = {
    "direct_sensor": "direct sensor",
    "phosphor_plate": "phosphor plate",
    "film": "film",
}


def save_practice(
    scope: PracticeScope,
    actor: Actor,
    *,
    name: str,
    numbering: str,
    posterior_contacts: str,
    bone_beyond_apex_mm: str,
    upper_canine_lateral: str,
) -> Practice:
    """Keep the practice's choices; series already started keep theirs."""
    require(actor, DENTISTS, "change the practice's settings")
    practice = scope.practice()
    practice.name = checked_line(name, "name")
    practice.numbering = _one_of(numbering, [each.value for each in Numbering], "numbering")
    practice.posterior_contacts = _one_of(posterior_contacts, POSTERIOR_CONTACTS, "posterior_contacts")
    bone = [str(option["value"]) for option in criteria()["bone_beyond_apex_mm"].options]
    practice.bone_beyond_apex_mm = int(_one_of(bone_beyond_apex_mm, bone, "bone_beyond_apex_mm"))
    canine = [str(option["value"]) for option in criteria()["upper_canine_lateral"].options]
    practice.upper_canine_lateral = _one_of(upper_canine_lateral, canine, "upper_canine_lateral")
    scope.session.add(practice)
    return practice


def _one_of(given: str, known: Sequence[str], path: str) -> str:
    if given not in known:
        raise InputError(
            path, f'"{given}" cannot be chosen here. Choose {", ".join(known)}.' + did_you_mean(given, known)
        )
    return given


def save_orders(
    scope: PracticeScope,
    actor: Actor,
    *,
    template_key: str,
    order: Sequence[str],
    patterns: Sequence[Mapping[str, str]],
) -> Practice:
    """Keep the order in which a template's views are exposed, and the file-name patterns of the practice.

    Parameters
    ----------
    order : slot ids; those left out follow in the template's own order
    patterns : each with ``pattern`` (``*`` any letters, ``?`` one) and ``slot``
    """
    require(actor, DENTISTS, "change the practice's settings")
    practice = scope.practice()
    if template_key:
        template = template_of(scope, template_key)
        for slot in order:
            template.slot(slot, "order")
        if len(set(order)) != len(order):
            raise InputError("order", "a view stands twice in the order. Name each once")
        practice.exposure_orders = {**practice.exposure_orders, template_key: list(order)}
    practice.file_name_patterns = [_pattern(each, index) for index, each in enumerate(patterns)]
    scope.changed(practice, "exposure_orders", "file_name_patterns")
    return practice


def _pattern(each: Mapping[str, Any], index: int) -> dict[str, str]:
    path = f"patterns[{index}]"
    return {
        "pattern": checked_line(str(each.get("pattern", "")), f"{path}.pattern", longest=80),
        "slot": checked_line(str(each.get("slot", "")), f"{path}.slot", longest=80),
    }


def add_room(scope: PracticeScope, actor: Actor, name: str) -> Room:
    """A further room."""
    require(actor, DENTISTS, "change rooms and receptors")
    return scope.add(Room(name=checked_line(name, "room_name", longest=60)))


def add_receptor(scope: PracticeScope, actor: Actor, *, name: str, kind: str, size: str) -> Receptor:
    """A further receptor."""
    require(actor, DENTISTS, "change rooms and receptors")
    if kind not in RECEPTOR_KINDS:
        raise InputError("receptor_kind", "choose direct sensor, phosphor plate or film")
    if size not in {str(known) for known in RECEPTOR_SIZES_MM}:
        raise InputError("receptor_size", "choose a size from 0 to 4")
    return scope.add(Receptor(name=checked_line(name, "receptor_name", longest=60), kind=kind, size=int(size)))


def retire_equipment(scope: PracticeScope, actor: Actor, row_id: str, *, retired: bool) -> None:
    """Take a room or receptor off the lists, or put it back; exposures made with it keep it."""
    require(actor, DENTISTS, "change rooms and receptors")
    row = scope.find(Room, row_id) or scope.get(Receptor, row_id, "room or receptor")
    row.retired = retired
    scope.session.add(row)
