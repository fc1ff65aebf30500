"""Where a measurement becomes a finding: numbers with their reasons, kept as data.

A receptor that differs from the usual gets its own set: ``{**usual_thresholds(), "noisy.warning": 0.08}``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

SOURCE = Path(__file__).resolve().parents[2] / "shared" / "published" / "image_thresholds.json"

Thresholds = Mapping[str, float]
"""Threshold by name, like ``blurred.warning``."""


@dataclass(frozen=True, kw_only=True)
class Reasoned:
    """A threshold with why it stands where it does."""

    value: float
    unit: str
    reason: str
    grade: str


@cache
def reasoned_thresholds() -> Mapping[str, Reasoned]:
    """Every threshold with unit, reason and grade, by name."""
    table = json.loads(SOURCE.read_text(encoding="utf-8"))["thresholds"]
    return MappingProxyType({name: Reasoned(**each) for name, each in table.items()})


@cache
def usual_thresholds() -> Thresholds:
    """The thresholds for a receptor of which nothing particular is known."""
    return MappingProxyType({name: float(each.value) for name, each in reasoned_thresholds().items()})
