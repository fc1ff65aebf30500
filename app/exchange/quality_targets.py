"""The published grading schemes of shared/published/quality_targets.json."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from app.core.quality.targets import Grade, GradeTarget, GradingScheme
from app.exchange.shared_data import SHARED


@cache
def grading_schemes() -> dict[str, GradingScheme]:
    """The published schemes by id, the one in force first."""
    table = json.loads((SHARED / "published" / "quality_targets.json").read_text(encoding="utf-8"))
    return {each["id"]: _scheme(each) for each in table["schemes"]}


def _scheme(data: dict[str, Any]) -> GradingScheme:
    return GradingScheme(
        id=data["id"],
        title=data["title"],
        grades=tuple(Grade(**each) for each in data["grades"]),
        targets=tuple(
            GradeTarget(grade=each["grade"], bound=each["bound"], share=each["share"], receptors=each["receptors"])
            for each in data["targets"]
        ),
        status=data["status"],
        source=data["source"],
        notes=tuple(f"{each['text']} ({each['source']})" for each in data["notes"]),
    )
