"""Reads the project's shared data as it stands on disk, without the program's own readers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

SHARED = Path(__file__).resolve().parents[2] / "shared"

ADULT_IDS = ("adult-18", "adult-20", "adult-21-vertical")
TEMPLATE_IDS = (*ADULT_IDS, "bitewings-4", "bitewings-2", "mixed-12", "primary-8", "edentulous-14")

_MIRRORED = {"1": "2", "2": "1", "3": "4", "4": "3", "5": "6", "6": "5", "7": "8", "8": "7"}


def shared(relative: str) -> Any:
    """The decoded JSON of a file below shared/."""
    return json.loads((SHARED / relative).read_text(encoding="utf-8"))


def published(name: str) -> Any:
    """One table of published values."""
    return shared(f"published/{name}.json")


def slots(template_id: str, *, required_only: bool = True) -> list[dict[str, Any]]:
    """The slots of a built-in template, in its own order."""
    found: list[dict[str, Any]] = shared(f"templates/{template_id}.json")["slots"]
    return [slot for slot in found if slot["required"] or not required_only]


def shown_by_required(template_id: str, kind: str | None = None) -> set[str]:
    """Everything that the required slots (of one kind) promise."""
    return {target for slot in slots(template_id) if kind in (None, slot["kind"]) for target in slot["shows"]}


def mirrored(target: str) -> str:
    """The same target on the other side of the mouth; a contact's teeth change places to stay in arch order."""
    kind, *rest = target.split(":")
    teeth = [_MIRRORED[tooth[0]] + tooth[1:] for tooth in rest[0].split("-")]
    return ":".join([kind, "-".join(reversed(teeth)), *rest[1:]])


def every_text(value: Any) -> Iterator[str]:
    """Every text in decoded JSON, keys left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for member in value.values():
            yield from every_text(member)
    elif isinstance(value, list):
        for member in value:
            yield from every_text(member)
