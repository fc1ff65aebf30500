"""The published dose estimates of `shared/published/dose.json`, read once."""

from __future__ import annotations

import json
from functools import cache

from app.core.quality.dose import COLLIMATIONS, DoseEstimate, DoseTable
from app.exchange.shared_data import SHARED


@cache
def dose_table() -> DoseTable:
    """The estimates with their sources."""
    data = json.loads((SHARED / "published" / "dose.json").read_text(encoding="utf-8"))
    return DoseTable(
        estimates=tuple(DoseEstimate(**each) for each in data["estimates"]),
        applies_to={
            (kind, beam): tuple(each[beam]) for kind, each in data["applies_to"].items() for beam in COLLIMATIONS
        },
        notes={kind: each["grade"] for kind, each in data["applies_to"].items()},
        cautions=tuple(each["text"] for each in data["cautions"]),
        sources={key: each["what"] for key, each in data["sources"].items()},
    )
