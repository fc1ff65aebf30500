"""The history of corrections, read: what stood there, what stands there now, who, when and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import col

from app.storage.corrections import CHART
from app.storage.people import Patient
from app.storage.practice import Receptor, Room
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import Correction
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import CHAIRSIDE, TEAM, Actor, require
from app.work.staff_names import staff_names

FIELD_WORDS = {
    "chart_number": "chart number",
    "birth_date": "birth date",
    "preferred_contact": "contact by",
    CHART: "dentition chart",
    "operator_id": "taken by",
    "receptor_id": "receptor",
    "room_id": "room",
    "tube_kv": "tube voltage, kV",
    "tube_ma": "tube current, mA",
    "exposure_seconds": "exposure time, s",
    "taken_at": "taken at",
    "reviewed": "review",
    "also_shows": "also shows",
    "set_aside_reason": "set aside",
}
"""Columns as people call them; the others are called by their name."""


@dataclass(frozen=True, kw_only=True)
class ShownCorrection:
    """One line of the history.

    Parameters
    ----------
    about : what was corrected: the patient, or an image with its series' day
    """

    about: str
    field: str
    before: str
    after: str
    reason: str
    by: str
    at: datetime
    series_id: str


def corrections_of_patient(scope: PracticeScope, actor: Actor, patient_id: str) -> list[ShownCorrection]:
    """All that was corrected about a patient, the newest first; of images only for those who work with them."""
    require(actor, TEAM, "read the history of corrections")
    scope.get(Patient, patient_id, "patient")
    merged = {each.id: each for each in scope.all(scope.select(Patient).where(Patient.merged_into == patient_id))}
    query = scope.select(Correction).where(col(Correction.patient_id).in_([patient_id, *merged]))
    rows = list(scope.all(query))
    about = {each.id: (f"merged record, chart {each.chart_number}", "") for each in merged.values()}
    if not actor.may(CHAIRSIDE):
        return _shown(scope, [row for row in rows if row.field != CHART], about)
    series = {
        each.id: each for each in scope.all(scope.select(SeriesRow).where(SeriesRow.patient_id == patient_id))
    }
    exposures = _exposures(scope, list(series))
    rows += _of_exposures(scope, exposures)
    about |= {
        each.id: (f"image {each.position}, series of {series[each.series_id].started_on}", each.series_id)
        for each in exposures
    }
    return _shown(scope, rows, about)


def corrections_of_series(scope: PracticeScope, actor: Actor, series_id: str) -> list[ShownCorrection]:
    """All that was corrected about the exposures of a series, the newest first."""
    require(actor, CHAIRSIDE, "read what was corrected about images")
    scope.get(SeriesRow, series_id, "series")
    exposures = _exposures(scope, [series_id])
    about = {each.id: (f"image {each.position}", series_id) for each in exposures}
    return _shown(scope, list(_of_exposures(scope, exposures)), about)


def _exposures(scope: PracticeScope, series_ids: list[str]) -> Sequence[ExposureRow]:
    return scope.all(scope.select(ExposureRow).where(col(ExposureRow.series_id).in_(series_ids)))


def _of_exposures(scope: PracticeScope, exposures: Sequence[ExposureRow]) -> Sequence[Correction]:
    ids = [each.id for each in exposures]
    return scope.all(scope.select(Correction).where(col(Correction.exposure_id).in_(ids)))


def _shown(
    scope: PracticeScope, rows: list[Correction], about: Mapping[str, tuple[str, str]]
) -> list[ShownCorrection]:
    staff = staff_names(scope)
    receptors = {each.id: each.name for each in scope.all(scope.select(Receptor))}
    rooms = {each.id: each.name for each in scope.all(scope.select(Room))}
    names = {"operator_id": staff, "receptor_id": receptors, "room_id": rooms}
    found = []
    for row in sorted(rows, key=lambda each: (each.made_at, each.id), reverse=True):
        what, series_id = about.get(row.exposure_id or row.patient_id or "", ("patient", ""))
        before, after = row.before.get("value"), row.after.get("value")
        if row.field == CHART:
            before, after = _chart_difference(before, after)
        named = names.get(row.field, {})
        found.append(
            ShownCorrection(
                about=what,
                field=FIELD_WORDS.get(row.field, row.field),
                before=in_words(row.field, named.get(before, before) if isinstance(before, str) else before),
                after=in_words(row.field, named.get(after, after) if isinstance(after, str) else after),
                reason=row.reason,
                by=staff.get(row.made_by or "", "the program"),
                at=row.made_at,
                series_id=series_id,
            )
        )
    return found


def _chart_difference(before: Any, after: Any) -> tuple[str, str]:
    """What differs between two charts, tooth by tooth."""
    if not isinstance(before, dict) or not isinstance(after, dict):
        return "", ""
    old, new = _chart_lines(before), _chart_lines(after)
    differs = sorted(key for key in old.keys() | new.keys() if old.get(key) != new.get(key))
    usual = {True: "as usual", False: ""}
    return tuple(  # type: ignore[return-value]
        ", ".join(f"{key} {side.get(key, usual[key != 'dentition'])}".strip() for key in differs)
        for side in (old, new)
    )


def _chart_lines(chart: Mapping[str, Any]) -> dict[str, str]:
    lines = {"dentition": str(chart.get("dentition_kind", ""))}
    lines |= {str(tooth): str(state).replace("_", " ") for tooth, state in (chart.get("states") or {}).items()}
    lines |= {f"roots of {tooth}": " ".join(roots) for tooth, roots in (chart.get("roots") or {}).items()}
    return lines | {f"space {each}": "closed" for each in chart.get("closed_spaces") or ()}


def in_words(field: str, value: Any) -> str:
    """A value as a person reads it; "nothing" where there is none.

    Examples
    --------
    >>> in_words("shortfalls", [{"code": "cone_cut"}, {"code": "overlap", "targets": ["contact:17-16"]}])
    'cone cut; overlap (contact:17-16)'
    >>> in_words("reviewed", False), in_words("phone", "")
    ('not reviewed', 'nothing')
    """
    if isinstance(value, bool):
        return "reviewed" if value else "not reviewed"
    if field == "shortfalls" and value:
        return "; ".join(_shortfall(each) for each in value)
    if field == "taken_at" and isinstance(value, str):
        return f"{datetime.fromisoformat(value).astimezone():%Y-%m-%d %H:%M:%S}"
    if isinstance(value, list):
        value = ", ".join(str(each) for each in value)
    return "nothing" if value in (None, "") else str(value)


def _shortfall(data: Mapping[str, Any]) -> str:
    code = str(data.get("code", "")).replace("_", " ")
    targets = data.get("targets")
    return f"{code} ({', '.join(targets)})" if targets else code
