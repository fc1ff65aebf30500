"""The demo's quality record: the scheme chosen, notes on the time axis, and readings of its receptors.

Measuring an image takes longer than loading it, so what the ready radiographs say of their receptors lies beside
them in ``receptor_readings.json``, by the start of each file's SHA-256. ``python -m seed.quality`` makes it anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

from sqlmodel import col, select

from app.imaging.decode import read_radiograph
from app.storage.database import Store
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, ImageRow
from app.work.actor import Actor
from app.work.quality_receptors import reading_of, record_receptor_reading
from app.work.quality_record import annotate, choose_scheme
from app.work.quality_refresh import bring_up_to_date
from seed.pictures import FOLDER

READINGS = Path(__file__).resolve().parent / "receptor_readings.json"
NAMES = ("air_grey", "enamel_grey", "noise", "sharpness")
LETTERS = 16
"""Of a file's SHA-256, enough to tell some hundred files apart."""

NOTES = (
    (610, "oriel", "Ring holders for molar views bought for all three rooms"),
    (365, "basil", "Practice evening: placing the receptor for upper molars"),
    (150, "merrin", "Bitewings practised together: the beam through the contacts"),
)
"""Days ago, who wrote it, and what; invented like everything of the demo."""


def keep_record(store: Store, actors: Mapping[str, Actor], today: date) -> None:
    """Put the quality record into the demo practice, once its series are there."""
    dentist = actors["oriel"]
    with store.writing(dentist.practice_id) as scope:
        choose_scheme(
            scope,
            dentist,
            scheme_id="two-grades-2020",
            from_day=(today - timedelta(days=730)).isoformat(),
            reason="All our receptors are digital",
        )
        for days, login, text in NOTES:
            annotate(scope, actors[login], day=(today - timedelta(days=days)).isoformat(), text=text)
        _record_readings(scope)
    bring_up_to_date(store, dentist.practice_id)


def _record_readings(scope: PracticeScope) -> None:
    ready = json.loads(READINGS.read_text(encoding="utf-8"))
    query = select(col(ExposureRow.id), col(ImageRow.sha256)).join(
        ImageRow, col(ImageRow.id) == ExposureRow.image_id
    )
    rows = scope.session.exec(query.where(ExposureRow.practice_id == scope.practice_id)).all()
    for exposure_id, sha256 in rows:
        values = ready.get(sha256[:LETTERS])
        if values is not None:
            record_receptor_reading(scope, exposure_id, **dict(zip(NAMES, values, strict=True)))


def measured() -> dict[str, list[float | None]]:
    """What every ready radiograph says of its receptor."""
    found: dict[str, list[float | None]] = {}
    for file in sorted(FOLDER.glob("*.jpg")):
        data = file.read_bytes()
        values = reading_of(read_radiograph(data, name=file.name))
        found[hashlib.sha256(data).hexdigest()[:LETTERS]] = [values[name] for name in NAMES]
    return found


def main() -> None:
    """Measure them all, one to a line."""
    lines = (f"  {json.dumps(key)}: {json.dumps(values)}" for key, values in sorted(measured().items()))
    READINGS.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
