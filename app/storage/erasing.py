"""What erasing does to each table: identity and pictures go, the exposures stay without it.

An exposure was radiation: it counts in dose and retake statistics, and the database refuses to delete it.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import date
from typing import Any

from sqlalchemy import Engine, delete, select, update
from sqlalchemy.exc import OperationalError
from sqlmodel import SQLModel

from app.storage.columns import new_id, now
from app.storage.patient_keys import raised
from app.storage.patient_rows import rows_about
from app.storage.practice_scope import PracticeScope

DELETE = "its rows go"
KEEP = "holds no identity and no free text"

ERASING: dict[str, str | dict[str, Any]] = {
    "patient": {"name": "Erased record", "sought_as": "", "phone": "", "email": "", "preferred_contact": ""},
    "series": {"reason": ""},
    "exposure": {"original_name": ""},
    "image": KEEP,
    "image_measure": DELETE,
    "finding": KEEP,
    "retake_order": KEEP,
    "sign_off": {"reason": ""},
    "receptor_reading": KEEP,
    "grading_item": KEEP,
    "quality_fact": KEEP,
    "quality_mark": KEEP,
    "caries_risk": DELETE,
    "recall_prescription": DELETE,
    "recall_hold": DELETE,
    "outside_images": DELETE,
    "contact_note": DELETE,
    "recall_booking": DELETE,
    "recall_item": DELETE,
    "appointment": {"reason": ""},
    "imported_row": {"before": {}, "after": {}, "chart_number": "erased"},
    "correction": {"reason": ""},
    "patient_merge": {"fields": {}, "reason": ""},
    "retention_hold": {"note": ""},
    "erasure": KEEP,
    "trail_entry": KEEP,
}
"""For each table with a path to patient: what becomes of its rows.

Beside it `erase_rows` takes birth dates down to the year, and takes away chart numbers, charts, the words of
exemptions and of setting aside, and the names of image files.
"""


def erase_rows(scope: PracticeScope, patient_id: str) -> tuple[dict[str, int], list[str]]:
    """Take what says who the patient was out of every row.

    An entry of the erasing must stand on record already: the corrections yield to nothing else.

    Returns
    -------
    tuple
        How many rows of each table were touched; and the SHA-256 of the image files that may go: those that no
        other patient's exposure names.
    """
    connection = scope.session.connection()
    if connection.dialect.name == "sqlite":
        # What is overwritten is gone from the file too, not only from the tables.
        connection.exec_driver_sql("PRAGMA secure_delete = ON")
    found = dict(rows_about(scope, patient_id))
    shas = _unname_images(scope, found)
    counts = {}
    for name, rows in found.items():
        deed = ERASING.get(name, DELETE)
        if not rows or deed == KEEP or (name == "image_measure" and not shas):
            continue
        counts[name] = len(rows)
        table = SQLModel.metadata.tables[name]
        ids = [row["id"] for row in rows]
        if name == "image_measure":
            ids = [row["id"] for row in rows if row["image_id"] in shas]
        chosen = (table.c.practice_id == scope.practice_id, table.c.id.in_(ids))
        if isinstance(deed, dict):
            scope.session.execute(update(table).where(*chosen).values(**deed, **raised(table)))
        else:
            scope.session.execute(delete(table).where(*chosen))
    _erase_patients(scope, found["patient"])
    _erase_words(scope, found)
    scope.session.expire_all()
    return counts, sorted(shas.values())


def drop_old_pages(engine: Engine) -> None:
    """Let SQLite write its log back, so that what stood there before is not kept in it; readers may delay that."""
    if engine.dialect.name == "sqlite":
        with engine.connect() as connection, suppress(OperationalError):
            connection.connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _unname_images(scope: PracticeScope, found: dict[str, list[dict[str, Any]]]) -> dict[str, str]:
    """Images of this patient alone lose the name of their file.

    Returns
    -------
    dict
        Of each such image's id the SHA-256 that it had.
    """
    exposures, images = SQLModel.metadata.tables["exposure"], SQLModel.metadata.tables["image"]
    own = {row["id"] for row in found.get("exposure", ())}
    alone: dict[str, str] = {}
    for row in found.get("image", ()):
        query = select(exposures.c.id).where(
            exposures.c.practice_id == scope.practice_id, exposures.c.image_id == row["id"]
        )
        if set(scope.session.scalars(query)) <= own and not row["sha256"].startswith("erased-"):
            alone[row["id"]] = row["sha256"]
            scope.session.execute(
                update(images)
                .where(images.c.practice_id == scope.practice_id, images.c.id == row["id"])
                .values(sha256=f"erased-{new_id()}")
            )
    return alone


def _erase_patients(scope: PracticeScope, rows: Iterable[dict[str, Any]]) -> None:
    table = SQLModel.metadata.tables["patient"]
    for row in rows:
        scope.session.execute(
            update(table)
            .where(table.c.practice_id == scope.practice_id, table.c.id == row["id"])
            .values(
                chart_number=f"erased-{row['id']}",
                birth_date=date(date.fromisoformat(row["birth_date"]).year, 1, 1),
                dentition_kind="permanent",
                states={},
                roots={},
                closed_spaces=[],
                erased_at=now(),
                touched={},
                **raised(table),
            )
        )


def _erase_words(scope: PracticeScope, found: dict[str, list[dict[str, Any]]]) -> None:
    """Free words inside what stays: reasons of exemptions and of setting aside."""
    series, exposures = SQLModel.metadata.tables["series"], SQLModel.metadata.tables["exposure"]
    for row in found.get("series", ()):
        if row["exempt"]:
            plain = [each | {"reason": "erased"} for each in row["exempt"]]
            scope.session.execute(update(series).where(series.c.id == row["id"]).values(exempt=plain))
    corrections = SQLModel.metadata.tables["correction"]
    telling = [
        row["id"]
        for row in found.get("correction", ())
        if row["patient_id"] is not None or row["field"] == "set_aside_reason"
    ]
    if telling:
        scope.session.execute(update(corrections).where(corrections.c.id.in_(telling)).values(before={}, after={}))
    aside = [row["id"] for row in found.get("exposure", ()) if row["set_aside_reason"] is not None]
    if aside:
        scope.session.execute(update(exposures).where(exposures.c.id.in_(aside)).values(set_aside_reason="erased"))
