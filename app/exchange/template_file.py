"""Templates as JSON: read with every field checked, and written back the same."""

from __future__ import annotations

from typing import Any

from app.core.targets import parse_target
from app.core.templates import Receptor, Slot, Template
from app.exchange.fields import Fields, built_under

TEMPLATE_KEYS = ("id", "title", "slots", "source")
SLOT_KEYS = ("id", "kind", "title", "receptor", "shows", "burden", "required", "projection")
RECEPTOR_KEYS = ("size", "orientation")


def read_template(data: object, path: str = "template") -> Template:
    """The template that a JSON object describes.

    Parameters
    ----------
    data : decoded JSON; ``source`` of the template and ``projection`` of a slot (a key of the technique
        guidance) are optional, ``title`` defaults to the id
    path : where the object stands, for the errors

    Raises
    ------
    InputError
        With the path of the first field that cannot be.
    """
    fields = Fields(data, path, TEMPLATE_KEYS)
    template_id = fields.text("id")
    title = fields.text("title", template_id)
    source = fields.text_or_none("source")
    slots = tuple(_read_slot(member, where) for where, member in fields.items("slots", required=True))
    return built_under(path, lambda: Template(id=template_id, title=title, slots=slots, source=source))


def _read_slot(data: object, path: str) -> Slot:
    fields = Fields(data, path, SLOT_KEYS)
    values: dict[str, Any] = {
        "id": fields.text("id"),
        "kind": fields.text("kind"),
        "title": fields.text("title", fields.text("id")),
        "receptor": _read_receptor(fields.raw("receptor"), fields.at("receptor"))
        if fields.has("receptor")
        else None,
        "shows": tuple(parse_target(text, where) for where, text in fields.items("shows", required=True)),
        "burden": fields.number("burden", 1.0),
        "required": fields.flag("required", True),
        "projection": fields.text_or_none("projection"),
    }
    return built_under(path, lambda: Slot(**values))


def _read_receptor(data: object, path: str) -> Receptor:
    fields = Fields(data, path, RECEPTOR_KEYS)
    values: dict[str, Any] = {"size": fields.raw("size"), "orientation": fields.text("orientation")}
    return built_under(path, lambda: Receptor(**values))


def write_template(template: Template) -> dict[str, Any]:
    """The JSON object that `read_template` reads back to an equal template."""
    written: dict[str, Any] = {"id": template.id, "title": template.title}
    if template.source is not None:
        written["source"] = template.source
    written["slots"] = [_write_slot(slot) for slot in template.slots]
    return written


def _write_slot(slot: Slot) -> dict[str, Any]:
    written: dict[str, Any] = {"id": slot.id, "kind": slot.kind, "title": slot.title}
    if slot.receptor is not None:
        written["receptor"] = {"size": slot.receptor.size, "orientation": slot.receptor.orientation}
    if slot.projection is not None:
        written["projection"] = slot.projection
    return written | {"shows": list(slot.shows), "burden": slot.burden, "required": slot.required}
