"""A series begins: its template and the patient's chart are frozen as they are now."""

from __future__ import annotations

from datetime import date

from app.core.dentition import asked_targets
from app.core.errors import FullcountError, InputError
from app.exchange.template_file import write_template
from app.storage.people import Patient, Staff
from app.storage.practice import Room
from app.storage.practice_scope import PracticeScope
from app.storage.series import SeriesRow
from app.work.actor import CHAIRSIDE, Actor, Role, require
from app.work.audit_series import exemptions_for
from app.work.charts import chart_of, write_chart
from app.work.templates import as_practised, template_of
from app.work.text import checked_line


class SeriesClosed(FullcountError):
    """The series is closed: nothing in it changes any more."""


def start_series(
    scope: PracticeScope,
    actor: Actor,
    *,
    patient_id: str,
    template_key: str,
    prescribed_by: str,
    reason: str,
    room_id: str = "",
    today: date,
) -> SeriesRow:
    """Begin a series that a dentist has prescribed for this patient.

    Raises
    ------
    InputError
        Names the field: no such template, no prescribing dentist, no reason.
    """
    require(actor, CHAIRSIDE, "start a series")
    patient = scope.get(Patient, patient_id, "patient")
    practice = scope.practice()
    template = as_practised(template_of(scope, template_key), practice)
    dentist = dentist_of(scope, prescribed_by, "prescribed_by")
    dentition = chart_of(patient)
    if not asked_targets(dentition):
        raise InputError("patient", f"{patient.name}'s chart names no tooth and no ridge. Correct the chart first")
    twin = scope.first(
        scope.select(SeriesRow).where(
            SeriesRow.patient_id == patient.id,
            SeriesRow.template_key == template_key,
            SeriesRow.status == "open",
        )
    )
    if twin is not None:
        raise InputError(
            "template",
            f"a series of this template is open since {twin.started_on.isoformat()}. Go on with it, or close it",
        )
    return scope.add(
        SeriesRow(
            patient_id=patient.id,
            template=write_template(template),
            template_key=template_key,
            policy={"posterior_contacts": practice.posterior_contacts},
            dentition=write_chart(dentition),
            exempt=exemptions_for(template, dentition),
            prescribed_by=dentist.id,
            reason=checked_line(reason, "reason"),
            started_on=today,
            started_by=actor.staff_id,
            room_id=scope.get(Room, room_id, "room").id if room_id else None,
        )
    )


def dentist_of(scope: PracticeScope, staff_id: str, path: str) -> Staff:
    """A dentist who works here.

    Raises
    ------
    InputError
        At ``path``: nobody chosen, or somebody who is not a dentist of this practice.
    """
    staff = scope.find(Staff, staff_id)
    if staff is None or staff.role != Role.DENTIST or staff.retired:
        raise InputError(path, "choose the dentist from the list: radiographs are prescribed by a dentist")
    return staff


def open_series(scope: PracticeScope, series_id: str) -> SeriesRow:
    """A series that may still change.

    Raises
    ------
    SeriesClosed
        It was closed.
    """
    row = scope.held(SeriesRow, series_id, "series")
    if row.status != "open":
        raise SeriesClosed("this series is closed and stays as it was. Start a new series for further images")
    return row
