"""What the forms about a patient show: details, and the dentition chart."""

from __future__ import annotations

from app.core.dentition import Dentition
from app.core.numbering import Numbering, shown
from app.core.overtaking import TICK, Fields, Values
from app.core.teeth import ROOT_NAMES
from app.storage.people import Patient
from app.work.overtaken import Seen

LABELS = {
    "chart_number": "Chart number",
    "name": "Name",
    "birth_date": "Born",
    "phone": "Phone",
    "email": "Email",
    "preferred_contact": "Contact by",
}
"""The fields of the details, as the form calls them."""


def seen_details(patient: Patient) -> Seen:
    """The form of the details."""
    return Seen(
        fields={name: (str(getattr(patient, name)),) for name in LABELS},
        rows=(patient,),
        label=lambda name: LABELS.get(name, name),
    )


def chart_fields(dentition: Dentition, roots: dict[str, Values], states: dict[str, str]) -> Fields:
    """The chart as the fields of its form.

    Parameters
    ----------
    roots, states : of each position of the form
    """
    fields: dict[str, Values] = {"dentition_kind": (dentition.kind,)}
    for tooth, state in states.items():
        fields[f"state-{tooth}"] = (state,)
        fields[f"root-{tooth}"] = tuple(sorted(roots[tooth]))
    for first, second in dentition.closed_spaces:
        fields[f"space{TICK}{first}-{second}"] = ("yes",)
    return fields


def seen_chart(patient: Patient, fields: Fields, numbering: Numbering, state_words: dict[str, str]) -> Seen:
    """The form of the chart."""

    def label(name: str) -> str:
        kind, _, tooth = name.partition("-")
        if name.startswith("space"):
            first, _, second = name.partition(TICK)[2].partition("-")
            return f"Space closed {shown(first, numbering)}–{shown(second, numbering)}"
        if kind == "state":
            return f"Tooth {shown(tooth, numbering)}"
        return f"Roots of {shown(tooth, numbering)}" if kind == "root" else "Kind of dentition"

    def words(name: str, values: Values) -> str:
        if name.startswith("space"):
            return "yes" if values else "no"
        if name.startswith("root-"):
            return ", ".join(ROOT_NAMES.get(each, each) for each in values)
        return ", ".join(state_words.get(each, each) for each in values) or "not on this chart"

    columns = {
        name: (("roots",) if name.startswith("root-") else ("states",) if "state-" in name else ("closed_spaces",))
        for name in fields
    } | {"dentition_kind": ("dentition_kind",)}
    return Seen(fields=fields, rows=(patient,), columns=columns, label=label, words=words)
