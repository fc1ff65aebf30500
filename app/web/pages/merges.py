"""Double patients: proposed, compared side by side, merged, and the merge undone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.formatting import shown_date
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import DENTISTS, Actor
from app.work.correction_history import FIELD_WORDS
from app.work.doubles import Pair, likely_doubles, patient_with_number, rows_of_patient
from app.work.merge_lists import MergeAccount, merge_account
from app.work.merges import CHOICES, merge_patients, undo_merge

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class DoublesView(View):
    """The proposed pairs, and the form that compares two by hand."""

    pairs: list[Pair]
    one: str
    other: str


@dataclass(frozen=True, kw_only=True)
class FieldLine:
    """One field of both records; a choice where they differ.

    Parameters
    ----------
    chosen : ``one`` or ``other``: whose value stays unless somebody chooses
    """

    name: str
    words: str
    one: str
    other: str
    differs: bool
    chosen: str


@dataclass(frozen=True, kw_only=True)
class CompareView(View):
    """Two records side by side.

    Parameters
    ----------
    refused : why this person may not merge them; empty where they may
    """

    one: Patient
    other: Patient
    stays: str
    lines: list[FieldLine]
    rows: list[tuple[str, int, int]]
    reason: str
    refused: str


@dataclass(frozen=True, kw_only=True)
class MergeView(View):
    """One merge, done or undone."""

    account: MergeAccount
    values: list[tuple[str, str, str]]
    stays: list[str]


@router.get("/doubles")
def show_doubles(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The pairs that may be one person."""
    return render(request, "pages/doubles.html", _doubles(scope, actor))


def _doubles(
    scope: PracticeScope, actor: Actor, errors: tuple[FieldError, ...] = (), one: str = "", other: str = ""
) -> DoublesView:
    pairs = likely_doubles(scope, actor)
    return DoublesView(heading="Double patients", errors=errors, pairs=pairs, one=one, other=other)


@router.get("/doubles/compare")
def compare(request: Request, scope: ReadingDep, actor: CurrentActor, one: str = "", other: str = "") -> Response:
    """Two records by their chart numbers, side by side."""
    try:
        pair = patient_with_number(scope, one, "one"), patient_with_number(scope, other, "other")
        if pair[0].id == pair[1].id:
            raise InputError("other", "this is the same record. Enter the chart number of the other one")
    except InputError as error:
        view = _doubles(scope, actor, errors_of(error, "one", "other"), one, other)
        return render(request, "pages/doubles.html", view, status=422)
    return render(request, "pages/compare_patients.html", _compared(scope, actor, *pair))


def _compared(
    scope: PracticeScope,
    actor: Actor,
    one: Patient,
    other: Patient,
    errors: tuple[FieldError, ...] = (),
    typed: dict[str, str] | None = None,
) -> CompareView:
    typed = typed or {}
    counts = rows_of_patient(scope, one.id), rows_of_patient(scope, other.id)
    both = all(count.get("series") for count in counts)
    refused = "Both records have series: a dentist merges them." if both and not actor.may(DENTISTS) else ""
    return CompareView(
        heading="Are these one person?",
        errors=errors,
        one=one,
        other=other,
        stays=typed.get("stays", "one" if counts[0].get("series", 0) >= counts[1].get("series", 0) else "other"),
        lines=[_line(name, one, other, typed) for name in CHOICES],
        rows=[
            (words, counts[0].get(words, 0), counts[1].get(words, 0)) for words in sorted({*counts[0], *counts[1]})
        ],
        reason=typed.get("reason", ""),
        refused=refused,
    )


def _line(name: str, one: Patient, other: Patient, typed: dict[str, str]) -> FieldLine:
    texts = _text(name, one), _text(name, other)
    filled = "other" if not texts[0] and texts[1] else "one"
    return FieldLine(
        name=name,
        words=FIELD_WORDS.get(name, name),
        one=texts[0] or "not said",
        other=texts[1] or "not said",
        differs=texts[0] != texts[1],
        chosen=typed.get(name, filled),
    )


def _text(name: str, patient: Patient) -> str:
    if name == "chart":
        unusual = sum(1 for state in patient.states.values() if state != "present")
        return (
            f"{patient.dentition_kind}, {unusual} teeth not simply present" if unusual else patient.dentition_kind
        )
    value = getattr(patient, name)
    return shown_date(value) if isinstance(value, date) else str(value)


@router.post("/doubles/merge")
def merge(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Make one record of two; fields: ``one``, ``other`` (ids), ``stays``, a choice for each field, ``reason``."""
    one, other, stays = form.text("one"), form.text("other"), form.text("stays", "one")
    kept, merged = (other, one) if stays == "other" else (one, other)
    choices = {name: "kept" if form.text(name, stays) == stays else "merged" for name in CHOICES}
    reason = form.text("reason")
    try:
        with store.writing(actor.practice_id) as scope:
            row = merge_patients(
                scope, actor, kept_id=kept, merged_id=merged, choices=choices, reason=reason, today=date.today()
            )
    except InputError as error:
        typed = {"stays": stays, "reason": reason} | {name: form.text(name, stays) for name in CHOICES}
        with store.reading(actor.practice_id) as scope:
            pair = scope.get(Patient, one, "patient"), scope.get(Patient, other, "patient")
            view = _compared(scope, actor, *pair, errors_of(error, "reason", *CHOICES), typed)
        return render(request, "pages/compare_patients.html", view, status=422)
    return go_to(f"/merges/{row.id}", "merged")


@router.get("/merges/{merge_id}")
def show_merge(request: Request, merge_id: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """What a merge moved, what it chose, and the undo."""
    account = merge_account(scope, actor, merge_id)
    row = account.merge
    view = MergeView(
        heading="Merge of two records",
        account=account,
        values=[
            (FIELD_WORDS.get(name, name.replace("_", " ")), str(values["was"]) or "nothing", str(values["chosen"]))
            for name, values in row.fields.items()
            if isinstance(values["was"], str)
        ],
        stays=_stays(row.stays),
    )
    return render(request, "pages/merge.html", view)


def _stays(stays: dict[str, list[str]]) -> list[str]:
    words = [f"{FIELD_WORDS.get(name, name)}: changed since, left as it is" for name in stays.get("fields", ())]
    return words + [
        f"{name.partition('.')[0].replace('_', ' ')}: {len(ids)} gone or moved further since"
        for name, ids in stays.items()
        if name != "fields"
    ]


@router.post("/merges/{merge_id}/undo")
def undo(merge_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Put back what was moved; ``with``: names and ids of rows made since that go with the other record."""
    with_the_other: dict[str, list[str]] = {}
    for text in form.texts("with"):
        name, _, row_id = text.partition(":")
        with_the_other.setdefault(name, []).append(row_id)
    with store.writing(actor.practice_id) as scope:
        undo_merge(scope, actor, merge_id, with_the_other=with_the_other, today=date.today())
    return go_to(f"/merges/{merge_id}", "merge-undone")
