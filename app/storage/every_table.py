"""Every module that holds tables: read once, so that the database and its migrations know them all."""

from __future__ import annotations

from app.storage import (
    bookings,
    findings,
    grading,
    imports,
    letters,
    logins,
    people,
    practice,
    privacy,
    quality,
    quality_figures,
    recall,
    series,
    trail,
)

MODULES = (
    bookings,
    findings,
    grading,
    imports,
    letters,
    logins,
    people,
    practice,
    privacy,
    quality,
    quality_figures,
    recall,
    series,
    trail,
)
