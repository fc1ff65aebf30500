"""Every module that holds tables: read once, so that the database and its migrations know them all."""

from __future__ import annotations

from app.storage import (
    findings,
    grading,
    bookings,
    imports,
    letters,
    people,
    practice,
    quality,
    quality_figures,
    series,
)

MODULES = (findings, people, practice, series)
MODULES = (grading, people, practice, series)
MODULES = (grading, people, practice, quality, quality_figures, series)
    recall,
    series,
)

MODULES = (bookings, imports, letters, people, practice, recall, series)
