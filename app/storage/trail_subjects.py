"""Whom an entry is about: the one patient and the one series that rows or an address lead to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, literal, select
from sqlmodel import Session, SQLModel

from app.storage.trail_changes import ChangeLog

FEW = 40
"""Rows that are looked up one way or another; a transaction that reaches more is about nobody in particular."""


@dataclass(frozen=True, kw_only=True)
class Subject:
    """Ids; empty where there is none, or more than one."""

    patient_id: str = ""
    series_id: str = ""


def _table(name: str) -> Any:
    return SQLModel.metadata.tables[name]


def subject_of_changes(session: Session, log: ChangeLog) -> Subject:
    """Whom the rows of one transaction are about."""
    patients, series = set(log.named.get("patient_id", ())), set(log.named.get("series_id", ()))
    exposures = set(log.named.get("exposure_id", ()))
    connection = session.connection()
    for name, ids in log.touched().items():
        if name in ("patient", "series", "exposure"):
            {"patient": patients, "series": series, "exposure": exposures}[name].update(ids)
    if max(len(patients), len(series), len(exposures)) > FEW:
        return Subject()
    for name, ids in log.touched("update").items():
        _look(connection, name, ids, patients, series, exposures)
    if exposures:
        table = _table("exposure")
        series |= set(connection.execute(select(table.c.series_id).where(table.c.id.in_(exposures))).scalars())
    if series and not patients:
        table = _table("series")
        patients |= set(connection.execute(select(table.c.patient_id).where(table.c.id.in_(series))).scalars())
    return Subject(patient_id=only(patients), series_id=only(series))


def _look(
    connection: Connection,
    name: str,
    ids: Sequence[str],
    patients: set[str],
    series: set[str],
    exposures: set[str],
) -> None:
    table = SQLModel.metadata.tables.get(name)
    if table is None or not ids or len(ids) > FEW or name in ("patient", "exposure"):
        return
    wanted = {"patient_id": patients, "series_id": series, "exposure_id": exposures}
    columns = [table.c[key] for key in wanted if key in table.c]
    if not columns:
        return
    for row in connection.execute(select(*columns).where(table.c.id.in_(ids))):
        for key, value in row._mapping.items():
            if isinstance(value, str) and value:
                wanted[key].add(value)


def only(ids: set[str]) -> str:
    """The id where there is just one, else nothing."""
    return next(iter(ids)) if len(ids) == 1 else ""


def subject_of_address(connection: Connection, practice_id: str, parts: Mapping[str, Any]) -> Subject:
    """Whom a page or picture is about, from the parts of its address; only in the practice's own rows.

    Parameters
    ----------
    parts : like ``{"series_id": …}``, ``{"exposure_id": …}``, ``{"sha256": …}``, ``{"patient_id": …}``,
        ``{"appointment_id": …}``, or ``{"sample_id": …, "position": …}`` of a second reading
    """
    query = _query_of(parts)
    if query is None:
        return Subject()
    patients, series = set(), set()
    for patient_id, series_id in connection.execute(query[0].where(query[1].c.practice_id == practice_id)):
        patients.add(patient_id)
        series.add(series_id)
    return Subject(patient_id=only(patients), series_id=only(series))


def _query_of(parts: Mapping[str, Any]) -> tuple[Select[Any], Any] | None:
    patient, series, exposure = _table("patient"), _table("series"), _table("exposure")
    whose = select(series.c.patient_id, series.c.id)
    if "patient_id" in parts:
        only_patient = select(patient.c.id, literal("")).where(patient.c.id == parts["patient_id"])
        return only_patient, patient
    if "series_id" in parts:
        return whose.where(series.c.id == parts["series_id"]), series
    shown = whose.select_from(exposure.join(series, series.c.id == exposure.c.series_id))
    if "exposure_id" in parts:
        return shown.where(exposure.c.id == parts["exposure_id"]), series
    if "sha256" in parts:
        image = _table("image")
        joined = image.join(exposure, exposure.c.image_id == image.c.id).join(
            series, series.c.id == exposure.c.series_id
        )
        return whose.select_from(joined).where(image.c.sha256 == parts["sha256"]), series
    if "sample_id" in parts and "position" in parts:
        item = _table("grading_item")
        joined = item.join(exposure, exposure.c.id == item.c.exposure_id).join(
            series, series.c.id == exposure.c.series_id
        )
        query = whose.select_from(joined).where(item.c.sample_id == parts["sample_id"])
        return query.where(item.c.position == parts["position"]), series
    return None
