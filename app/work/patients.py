"""Patients: registered, corrected, found, and their charts."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import date

from sqlmodel import and_, col, or_, select

from app.core.dentition import Dentition
from app.core.errors import InputError
from app.storage.people import Patient
from app.storage.people_on_record import goes_on_as, on_record
from app.storage.practice_scope import PracticeScope
from app.storage.series import SeriesRow
from app.work.actor import CHAIRSIDE, TEAM, Actor, require
from app.work.audit_series import follow_chart
from app.work.charts import put_chart, usual_chart
from app.work.recall_recompute import recompute_recall
from app.work.text import checked_birth_date, checked_line

IDENTITY = {"name": "name", "birth_date": "birth date", "chart_number": "chart number"}
"""What says who somebody is, with its words."""

CONTACT_WAYS = ("", "phone", "email", "letter")


def register_patient(
    scope: PracticeScope,
    actor: Actor,
    *,
    chart_number: str,
    name: str,
    birth_date: str,
    phone: str = "",
    email: str = "",
    preferred_contact: str = "",
    today: date,
) -> Patient:
    """A new patient, with the chart that is usual for the age until somebody corrects it."""
    require(actor, TEAM, "register patients")
    patient = Patient(chart_number="", name="", birth_date=today)
    patient.practice_id = scope.practice_id
    _put(scope, patient, chart_number, name, birth_date, phone, email, preferred_contact, today)
    put_chart(patient, usual_chart(patient.birth_date, today))
    scope.add(patient)
    recompute_recall(scope, patient.id, today)
    return patient


def correct_patient(
    scope: PracticeScope,
    actor: Actor,
    patient_id: str,
    *,
    chart_number: str,
    name: str,
    birth_date: str,
    phone: str = "",
    email: str = "",
    preferred_contact: str = "",
    reason: str = "",
    today: date,
) -> Patient:
    """Correct what is written of a patient; what stood there before stays in the history of corrections.

    Parameters
    ----------
    reason : why; asked for where name, birth date or chart number become others, for these say who somebody is

    Raises
    ------
    InputError
        Names the field.
    """
    require(actor, TEAM, "correct patients")
    patient = scope.get(Patient, patient_id, "patient")
    why = checked_line(reason, "reason", empty=True)
    was = {field: getattr(patient, field) for field in IDENTITY}
    with scope.session.no_autoflush:
        _put(scope, patient, chart_number, name, birth_date, phone, email, preferred_contact, today)
        other = [words for field, words in IDENTITY.items() if getattr(patient, field) != was[field]]
        if other and not why:
            raise InputError(
                "reason", f"say why the {' and the '.join(other)} should be corrected. The reason stays"
            )
    scope.because(why)
    scope.session.add(patient)
    recompute_recall(scope, patient.id, today)
    return patient


def _put(
    scope: PracticeScope,
    patient: Patient,
    chart_number: str,
    name: str,
    birth_date: str,
    phone: str,
    email: str,
    preferred_contact: str,
    today: date,
) -> None:
    number = checked_line(chart_number, "chart_number", longest=40)
    twin = scope.first(scope.select(Patient).where(Patient.chart_number == number))
    if twin is not None and twin.id != patient.id:
        twin = goes_on_as(scope, twin)
        raise InputError("chart_number", f'"{number}" belongs to {twin.name}. Enter another chart number')
    clean = {
        "chart_number": number,
        "name": checked_line(name, "name"),
        "birth_date": checked_birth_date(birth_date, "birth_date", today=today),
        "phone": checked_line(phone, "phone", empty=True, longest=40),
        "email": checked_line(email, "email", empty=True, longest=254),
        "preferred_contact": preferred_contact,
    }
    if clean["email"] and "@" not in str(clean["email"]):
        raise InputError(
            "email", f'"{email}" is not an address. Write it like name@example.org, or leave it empty'
        )
    if preferred_contact not in CONTACT_WAYS:
        raise InputError("preferred_contact", "choose phone, email or letter, or leave it open")
    for field, value in clean.items():
        setattr(patient, field, value)
    patient.sought_as = folded(f"{patient.name} {number}")


def folded(text: str) -> str:
    """The text as it is searched for: without accents and without case, the same on every database."""
    apart = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in apart if not unicodedata.combining(letter)).casefold()


def find_patients(scope: PracticeScope, words: str = "", *, limit: int = 50) -> Sequence[Patient]:
    """Patients whose name or chart number holds every word, by name.

    The name and number of a record that was merged into theirs find them too.
    """
    sought = [folded(word) for word in words.split()[:6]]
    holds = [col(Patient.sought_as).contains(word, autoescape=True) for word in sought]
    query = on_record(scope)
    if holds:
        merged = select(Patient.merged_into).where(
            Patient.practice_id == scope.practice_id, col(Patient.merged_into).is_not(None), *holds
        )
        query = query.where(or_(and_(*holds), col(Patient.id).in_(merged)))
    return scope.all(query.order_by(Patient.name, Patient.chart_number).limit(limit))


def save_chart(scope: PracticeScope, actor: Actor, patient_id: str, dentition: Dentition) -> Patient:
    """Keep the chart, and have the patient's open series follow it."""
    require(actor, CHAIRSIDE, "edit dentition charts")
    patient = scope.get(Patient, patient_id, "patient")
    put_chart(patient, dentition)
    scope.changed(patient, "states", "roots", "closed_spaces")
    still_open = scope.select(SeriesRow).where(SeriesRow.patient_id == patient.id, SeriesRow.status == "open")
    for row in scope.all(still_open):
        follow_chart(scope, row, dentition)
    recompute_recall(scope, patient.id, date.today())
    return patient
