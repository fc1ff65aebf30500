"""A practice with everything that a backup must keep, and the reading of a data folder row by row."""

from __future__ import annotations

import atexit
import hashlib
import shutil
import sqlite3
import tempfile
from contextlib import closing
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from app.storage.database import Store
from app.storage.quality import SignedReport
from app.work.audit_series import audit_of
from app.work.close import close_series
from app.work.quality_period import Period
from app.work.report_contents import Written
from app.work.report_signing import draft_report, sign_quality_report
from tests.making import a_series, loaded
from tests.people import Practice, a_patient, founded

NOW = datetime.now(UTC)
PERIOD = Period.of_months(f"{NOW:%Y-%m}", f"{NOW:%Y-%m}")
WRITTEN = Written(conclusions=("Steady.",), actions=(), names="full")


def a_full_practice(practice: Practice) -> tuple[str, str]:
    """An open series with images, a closed one, and a signed report; the two series' ids.

    Made once, and copied into the practice's data folder.
    """
    template, series = _full_once()
    practice.store.close()
    shutil.rmtree(practice.store.folder)
    shutil.copytree(template, practice.store.folder)
    return series


@cache
def _full_once() -> tuple[Path, tuple[str, str]]:
    kept = tempfile.TemporaryDirectory(prefix="fullcount-full-")
    atexit.register(kept.cleanup)
    practice = founded(Path(kept.name) / "data")
    series = _filled(practice)
    practice.store.close()
    return practice.store.folder, series


def _filled(practice: Practice) -> tuple[str, str]:
    still_open = a_series(practice)
    for number in (1, 2, 3):
        loaded(practice, still_open, number)
    closed = a_series(practice, patient_id=a_patient(practice, "H200").id)
    loaded(practice, closed, 4, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        close_series(scope, practice.dentist, closed.id, dentist_id=practice.dentist.staff_id, reason="unwell")
    sign(practice)
    return still_open.id, closed.id


def sign(practice: Practice) -> SignedReport:
    """A signed report of this month."""
    digest = draft_report(practice.store, practice.dentist, PERIOD, WRITTEN, lambda figures, names: {}).digest
    return sign_quality_report(
        practice.store, practice.dentist, PERIOD, WRITTEN, lambda figures, names: {}, previewed=digest
    )


def every_row(folder: Path) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of all tables, by table."""
    with closing(sqlite3.connect(folder / "fullcount.sqlite3")) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        return {
            name: sorted(connection.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr)
            for name in sorted(str(row[0]) for row in tables)
        }


def every_file(folder: Path) -> dict[str, str]:
    """SHA-256 of all files under images and reports, by their place."""
    return {
        each.relative_to(folder).as_posix(): hashlib.sha256(each.read_bytes()).hexdigest()
        for kind in ("images", "reports")
        for each in (folder / kind).rglob("*")
        if each.is_file()
    }


def audits(practice: Practice, series: tuple[str, ...], folder: Path | None = None) -> list[Any]:
    """What the audit of each series says, in the data folder of the practice or in another."""
    store = Store(folder) if folder is not None else practice.store
    store.migrate()
    try:
        with store.reading(practice.dentist.practice_id) as scope:
            return [audit_of(scope, each).audit for each in series]
    finally:
        if folder is not None:
            store.close()
