"""Whether a data folder is whole: no row without its file, no half series, nothing that no reader can read."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import text

from app.storage.series import ExposureRow, ImageRow, SeriesRow
from tests.durability.serving import opened
from tests.people import Practice


def recorded(practice: Practice, folder: Path | None = None) -> dict[str, list[tuple[str, str]]]:
    """Each series' exposures and SHA-256 of their images, in order; fails where anything is not whole."""
    store = opened(folder or practice.store.folder)
    try:
        with store.reading(practice.dentist.practice_id) as scope:
            sound = scope.session.connection().execute(text("PRAGMA integrity_check")).scalar_one()
            broken = scope.session.connection().execute(text("PRAGMA foreign_key_check")).all()
            exposures = scope.all(scope.select(ExposureRow).order_by(ExposureRow.position))
            images = {row.id: row for row in scope.all(scope.select(ImageRow))}
            series = {row.id: row for row in scope.all(scope.select(SeriesRow))}
        assert (sound, broken) == ("ok", [])
        assert {each.image_id for each in exposures} == set(images)
        for row in images.values():
            data = store.images.read(row.sha256)
            assert (hashlib.sha256(data).hexdigest(), len(data)) == (row.sha256, row.byte_count)
        found: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for each in exposures:
            found[each.series_id].append((each.id, images[each.image_id].sha256))
        for series_id, rows in found.items():
            positions = [each.position for each in exposures if each.series_id == series_id]
            assert positions == list(range(1, len(rows) + 1))
            assert series[series_id].version == 1 + len(rows)
        return dict(found)
    finally:
        store.close()


def parts_and_orphans(folder: Path, named: Sequence[str]) -> tuple[int, int]:
    """How many temporary files an upload left, and how many files no row names; each is what it says."""
    parts = orphans = 0
    for each in (folder / "images").rglob("*"):
        if each.is_dir():
            continue
        if each.name.endswith(".part"):
            parts += 1
        elif each.name not in named:
            assert hashlib.sha256(each.read_bytes()).hexdigest() == each.name
            orphans += 1
    return parts, orphans
