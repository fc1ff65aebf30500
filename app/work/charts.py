"""Charts between rows and core: the same four keys in the database, the series file and the forms."""

from __future__ import annotations

from datetime import date
from typing import Any

from app.core.dentition import Dentition, ToothState
from app.core.teeth import PERMANENT, ordinal
from app.exchange.fields import Fields
from app.exchange.series_file import read_dentition, write_dentition
from app.storage.people import Patient

CHART_KEYS = ("dentition_kind", "dentition", "roots", "closed_spaces")


def chart_of(patient: Patient) -> Dentition:
    """The patient's chart as last edited."""
    return read_chart(
        {
            "dentition_kind": patient.dentition_kind,
            "dentition": patient.states,
            "roots": patient.roots,
            "closed_spaces": patient.closed_spaces,
        }
    )


def read_chart(data: object) -> Dentition:
    """The chart that an object with the four keys describes.

    Raises
    ------
    InputError
        At the field that cannot be.
    """
    return read_dentition(Fields(data, "", CHART_KEYS))


def write_chart(dentition: Dentition) -> dict[str, Any]:
    """The four keys that `read_chart` reads."""
    return write_dentition(dentition)


def put_chart(patient: Patient, dentition: Dentition) -> None:
    """Put the chart into the patient's row."""
    written = write_chart(dentition)
    patient.dentition_kind = written["dentition_kind"]
    patient.states = written["dentition"]
    patient.roots = written["roots"]
    patient.closed_spaces = written["closed_spaces"]


def usual_chart(birth_date: date, today: date) -> Dentition:
    """A chart to begin with for the age, to be corrected by looking into the mouth.

    Common practice, no source: primary under 6; from 6 to 11 mixed, with the first permanent molars and the
    incisors through; from 12 permanent, third molars unerupted until 18.
    """
    age = today.year - birth_date.year - ((today.month, today.day) < (birth_date.month, birth_date.day))
    if age < 6:
        return Dentition(kind="primary")
    if age < 12:
        states: dict[str, ToothState] = {}
        for tooth in PERMANENT:
            if ordinal(tooth) != 8:
                through = ordinal(tooth) in (1, 2, 6)
                states[tooth] = ToothState.PRESENT if through else ToothState.UNERUPTED
        for quadrant in "5678":
            states.update({f"{quadrant}{count}": ToothState.PRESENT for count in (3, 4, 5)})
        return Dentition(kind="mixed", states=states)
    if age < 18:
        return Dentition(states={f"{quadrant}8": ToothState.UNERUPTED for quadrant in "1234"})
    return Dentition()
