"""The project's reference data in shared/: read once, checked when read.

Every file names the source of what it says; nothing here is a clinical rule of the program's own.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from app.core.advice import Corrections
from app.core.exposures import ShortfallCode
from app.core.targets import Target, parse_target
from app.core.templates import Template
from app.exchange.template_file import read_template

SHARED = Path(__file__).resolve().parents[2] / "shared"

BUILTIN_IDS = (
    "adult-18",
    "adult-20",
    "adult-21-vertical",
    "bitewings-4",
    "bitewings-2",
    "mixed-12",
    "primary-8",
    "edentulous-14",
)
"""The built-in templates, in the order in which they are offered."""


def _load(relative: str) -> Any:
    return json.loads((SHARED / relative).read_text(encoding="utf-8"))


@cache
def builtin_templates() -> dict[str, Template]:
    """The built-in templates by id, in the order in which they are offered."""
    return {
        template_id: read_template(_load(f"templates/{template_id}.json"), f"shared/templates/{template_id}.json")
        for template_id in BUILTIN_IDS
    }


@dataclass(frozen=True, kw_only=True)
class TechniqueError:
    """A shortfall as people meet it: its name, look, cause and correction, with their source."""

    name: str
    look: str
    cause: str
    correction: str
    regions: dict[str, str]
    source: str


@cache
def technique_errors() -> dict[ShortfallCode, TechniqueError]:
    """The table of technique errors, one for each shortfall code."""
    table = _load("guidance/technique_errors.json")
    return {code: TechniqueError(**table[code.value]) for code in ShortfallCode}


@dataclass(frozen=True, kw_only=True)
class Projection:
    """How a projection is taken and what makes it acceptable, with the source of each item.

    Parameters
    ----------
    vertical_deg : lowest and highest vertical angle of the bisecting technique, degrees, + pointing down; None
        where none is published
    """

    title: str
    beam_centre: str
    entry_point: str
    vertical_deg: tuple[float, float] | None
    vertical: str
    horizontal: str
    placement: str
    acceptable: tuple[str, ...]
    sources: dict[str, Any]


@cache
def projections(bone_beyond_apex_mm: int | None = None) -> dict[str, Projection]:
    """Technique guidance by projection key.

    Parameters
    ----------
    bone_beyond_apex_mm : what the practice asks for beyond an apex; None for the default
    """
    options = {
        option["value"]: option["sentence"]
        for option in _load("guidance/criteria.json")["bone_beyond_apex_mm"]["options"]
    }
    wanted = options.get(bone_beyond_apex_mm)
    found: dict[str, Projection] = {}
    for key, each in _load("guidance/projections.json").items():
        angles = each["vertical_deg"]
        sentences = tuple(
            wanted if wanted is not None and text in options.values() else text for text in each["acceptable"]
        )
        found[key] = Projection(
            **(each | {"vertical_deg": None if angles is None else tuple(angles), "acceptable": sentences})
        )
    return found


@cache
def corrections() -> Corrections:
    """What the advice of a retake says of each fault and each projection."""
    table = technique_errors()
    return Corrections(
        names={code: each.name for code, each in table.items()},
        corrections={code: each.correction for code, each in table.items()},
        regions={code: each.regions for code, each in table.items()},
        placements={key: f"{each.placement} Beam: {each.beam_centre}" for key, each in projections().items()},
    )


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """A setting on which published sources differ: its default, its options with their sources."""

    key: str
    title: str
    default: Any
    options: tuple[dict[str, Any], ...]
    source: str


@cache
def criteria() -> dict[str, Criterion]:
    """The settings on which published sources differ."""
    return {
        key: Criterion(
            key=key,
            title=each["title"],
            default=each["default"],
            options=tuple(each["options"]),
            source=each["source"],
        )
        for key, each in _load("guidance/criteria.json").items()
    }


def owed_by_canine_view(choice: str) -> dict[str, tuple[Target, ...]]:
    """What an upper canine view owes besides, by the canine it shows, for a choice of ``upper_canine_lateral``."""
    for option in criteria()["upper_canine_lateral"].options:
        if option["value"] == choice:
            return {
                canine: tuple(parse_target(text, f"upper_canine_lateral.{canine}") for text in adds)
                for canine, adds in option["adds"].items()
            }
    raise KeyError(choice)
