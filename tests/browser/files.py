"""Image files for the browser to load: drawings, one for each view, upright or lying as its receptor stands."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from app.core.targets import kind, teeth
from app.exchange.shared_data import builtin_templates
from app.imaging.drawing import draw_placeholder

_seeds: Iterator[int] = count(700)


def drawing(slot_id: str, name: str, template: str = "adult-18") -> dict[str, object]:
    """A new drawing for a slot, as the browser's file chooser takes it."""
    slot = builtin_templates()[template].slot(slot_id)
    upright = slot.receptor is not None and slot.receptor.orientation == "portrait"
    shown = [teeth(target)[0] for target in slot.shows if kind(target) == "crown"]
    data = draw_placeholder(
        width=300 if upright else 400,
        height=400 if upright else 300,
        seed=next(_seeds),
        kind=slot.kind,
        teeth=shown,
    )
    return {"name": name, "mimeType": "image/png", "buffer": data}


def whole_series(template: str = "adult-18") -> list[dict[str, object]]:
    """A drawing for each required view, in the order in which they are exposed."""
    slots = builtin_templates()[template].required_slots
    return [drawing(slot.id, f"capture-{number:02d}.png", template) for number, slot in enumerate(slots, start=1)]
