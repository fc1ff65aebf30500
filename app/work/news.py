"""What a page that follows its subject asks again and again: has it changed, and who changed it last."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlmodel import col

from app.storage.people import Patient, Staff
from app.storage.practice_scope import NotFound, PracticeScope
from app.storage.series import SeriesRow
from app.storage.versions import stamp_of
from app.work.actor import CHAIRSIDE, TEAM, Actor, Role, require

FOLLOWED: dict[str, frozenset[Role]] = {"series": CHAIRSIDE, "patient": TEAM, "recall": TEAM}
"""What can be followed, and by whom."""

EVERYTHING = "all"
"""Id of the recall list, of which a practice has one."""


@dataclass(frozen=True)
class Subject:
    """What a page follows: a series or a patient by id, or the recall list."""

    kind: str
    row_id: str


@dataclass(frozen=True)
class News:
    """A version, with the name of who changed it last; empty where that is nobody, or the reader."""

    version: str
    by: str


def followed(scope: PracticeScope, actor: Actor, kind: str, row_id: str) -> Subject:
    """What the person wants to follow.

    Raises
    ------
    NotFound
        No such thing in this practice.
    NotAllowed
        Not open to this person.
    """
    roles = FOLLOWED.get(kind)
    if roles is None:
        raise NotFound("nothing of that kind can be followed. Load the page again")
    require(actor, roles, "follow this page")
    if kind == "series":
        scope.get(SeriesRow, row_id, "series")
    elif kind == "patient":
        scope.get(Patient, row_id, "patient")
    elif row_id != EVERYTHING:
        raise NotFound("there is one recall list. Load the page again")
    return Subject(kind, row_id)


def versions_of(scope: PracticeScope, subjects: Collection[Subject]) -> dict[Subject, str]:
    """The version of each, in a query or two for all; of the recall list none: its page compares lines."""
    series = [each.row_id for each in subjects if each.kind == "series"]
    patients = [each.row_id for each in subjects if each.kind == "patient"]
    found: dict[Subject, str] = {}
    if series:
        for row in scope.all(scope.select(SeriesRow).where(col(SeriesRow.id).in_(series))):
            found[Subject("series", row.id)] = version_of_series(row)
    if patients:
        known = {row.id: row for row in scope.all(scope.select(Patient).where(col(Patient.id).in_(patients)))}
        theirs: dict[str, list[SeriesRow]] = {}
        for row in scope.all(scope.select(SeriesRow).where(col(SeriesRow.patient_id).in_(patients))):
            theirs.setdefault(row.patient_id, []).append(row)
        for row_id, patient in known.items():
            found[Subject("patient", row_id)] = _version_of(patient, theirs.get(row_id, []))
    return found


def version_of_series(row: SeriesRow) -> str:
    """The version that a page of the series shows."""
    return str(row.version)


def version_of_patient(scope: PracticeScope, patient: Patient) -> str:
    """The version that the page of a patient shows: details, chart, and how the series stand."""
    return _version_of(patient, scope.all(scope.select(SeriesRow).where(SeriesRow.patient_id == patient.id)))


def _version_of(patient: Patient, series: Collection[SeriesRow]) -> str:
    return f"{patient.row_version}.{len(series)}.{sum(each.version for each in series)}"


def news_of(scope: PracticeScope, actor: Actor, kind: str, row_id: str) -> News:
    """The version of what a page follows, and who changed it last."""
    subject = followed(scope, actor, kind, row_id)
    version = versions_of(scope, [subject]).get(subject, "")
    row = scope.find(SeriesRow, row_id) if kind == "series" else scope.find(Patient, row_id)
    stamp = stamp_of(row) if row is not None else None
    staff = scope.find(Staff, stamp.by) if stamp is not None else None
    return News(version, staff.name if staff is not None and staff.id != actor.staff_id else "")
