"""What is written about findings in shared/findings: what each means, and how accurately it is found."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from app.exchange.shared_data import SHARED

FOLDER = SHARED / "findings"


@cache
def findings_described() -> dict[str, Any]:
    """Meaning, what to do and what cannot be seen, by code; empty where nothing is written yet."""
    described: dict[str, Any] = _read("findings.json").get("findings", {})
    return described


@cache
def findings_accuracy() -> dict[str, Any]:
    """The last measurement of accuracy; empty where there is none."""
    return _read("accuracy.json")


def _read(name: str) -> dict[str, Any]:
    file = FOLDER / name
    if not file.exists():
        return {}
    read: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return read
