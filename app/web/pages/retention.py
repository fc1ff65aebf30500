"""Keeping and erasing records: the rule, what is past its term, holds, and erasing by two people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.retention import RetentionRule
from app.exchange.retention_rules import published_rules
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import Erasure, RetentionHold
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.practice import places
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import ADMINISTRATORS, DENTISTS, Actor
from app.work.erasing import (
    carried_out_erasures,
    carry_out_erasing,
    confirm_erasing,
    is_practice_of_one,
    left_files,
    remove_left_files,
    waiting_erasures,
    withdraw_erasing,
)
from app.work.retention import PastTerm, choose_rule, holds_in_force, records_past_term, rule_in_force
from app.work.retention_holds import HOLD_KINDS, lift_retention_hold, place_retention_hold
from app.work.staff_names import staff_names

router = APIRouter(include_in_schema=False)

RULE_FIELDS = ("key", "years", "until_age", "reason")
HOLD_FIELDS = ("kind", "note", "until_on")
MOST_SHOWN = 100


@dataclass(frozen=True, kw_only=True)
class HoldLine:
    """A hold with names."""

    hold: RetentionHold
    patient: str
    kind: str
    by: str


@dataclass(frozen=True, kw_only=True)
class ErasureLine:
    """An erasing, waiting or done.

    Parameters
    ----------
    patient : empty for those who see no patients, and once it is done
    alone : whether this person confirmed it and may carry it out after typing the chart number
    """

    erasure: Erasure
    patient: str
    confirmed_by: str
    carried_out_by: str
    may_carry_out: bool
    alone: bool


@dataclass(frozen=True, kw_only=True)
class RetentionView(View):
    """The page.

    Parameters
    ----------
    places : the pages of the practice, of which this is one
    past : shown to dentists only; others see how many there are
    """

    places: list[tuple[str, str, bool]]
    rule: RetentionRule | None
    rules: list[RetentionRule]
    values: dict[str, str]
    past: list[PastTerm]
    past_count: int
    waiting_ids: frozenset[str]
    waiting: list[ErasureLine]
    done: list[ErasureLine]
    holds: list[HoldLine]
    files_left: int
    is_dentist: bool
    is_administrator: bool


@dataclass(frozen=True, kw_only=True)
class HoldView(View):
    """The form of a hold, and those in force."""

    patient_id: str
    patient: str
    kinds: list[tuple[str, str]]
    values: dict[str, str]
    holds: list[HoldLine]


def _hold_lines(scope: PracticeScope, holds: Sequence[RetentionHold]) -> list[HoldLine]:
    staff = staff_names(scope)
    lines = []
    for each in holds:
        patient = scope.find(Patient, each.patient_id)
        named = f"{patient.name}, chart {patient.chart_number}" if patient is not None else ""
        lines.append(
            HoldLine(hold=each, patient=named, kind=HOLD_KINDS[each.kind], by=staff.get(each.placed_by, ""))
        )
    return lines


def _erasure_lines(scope: PracticeScope, actor: Actor, rows: Sequence[Erasure]) -> list[ErasureLine]:
    staff = staff_names(scope)
    alone = is_practice_of_one(scope, actor)
    lines = []
    for each in rows:
        patient = scope.find(Patient, each.patient_id) if actor.may(DENTISTS) and not each.carried_out_at else None
        own = each.confirmed_by == actor.staff_id
        lines.append(
            ErasureLine(
                erasure=each,
                patient=f"{patient.name}, chart {patient.chart_number}" if patient is not None else "",
                confirmed_by=staff.get(each.confirmed_by, ""),
                carried_out_by=staff.get(each.carried_out_by or "", ""),
                may_carry_out=actor.may(ADMINISTRATORS) and (not own or alone),
                alone=own and alone,
            )
        )
    return lines


def _view(
    scope: PracticeScope,
    actor: Actor,
    errors: tuple[FieldError, ...] = (),
    values: dict[str, str] | None = None,
) -> RetentionView:
    today = date.today()
    rule = rule_in_force(scope)
    past = records_past_term(scope, actor, today)
    waiting = waiting_erasures(scope)
    is_dentist = actor.may(DENTISTS)
    usual = {"key": rule.key if rule is not None else "", "years": "", "until_age": "", "reason": ""}
    return RetentionView(
        heading="Keeping and erasing records",
        errors=errors,
        places=places("/retention", actor),
        rule=rule,
        rules=list(published_rules().values()),
        values=values or usual,
        past=past[:MOST_SHOWN] if is_dentist else [],
        past_count=len(past),
        waiting_ids=frozenset(each.patient_id for each in waiting),
        waiting=_erasure_lines(scope, actor, waiting),
        done=_erasure_lines(scope, actor, carried_out_erasures(scope, actor)[:MOST_SHOWN]),
        holds=_hold_lines(scope, holds_in_force(scope, today)) if is_dentist else [],
        files_left=left_files(scope),
        is_dentist=is_dentist,
        is_administrator=actor.may(ADMINISTRATORS),
    )


@router.get("/retention")
def show_retention(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The rule, what is past its term, holds, erasings."""
    return render(request, "pages/retention.html", _view(scope, actor))


@router.post("/retention/rule")
def keep_rule(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep the choice; fields: ``key``, and for one's own ``years``, ``until_age``, ``reason``."""
    values = {name: form.text(name) for name in RULE_FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            choose_rule(scope, actor, **values)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _view(scope, actor, errors_of(error, *RULE_FIELDS), values)
        return render(request, "pages/retention.html", view, status=422)
    return go_to("/retention", "retention-rule-kept")


@router.get("/retention/holds/{patient_id}")
def show_holds(request: Request, patient_id: str, scope: ReadingDep) -> Response:
    """The holds of one record, and the form of a further one."""
    return render(
        request, "pages/retention_hold.html", _hold_view(scope, patient_id, dict.fromkeys(HOLD_FIELDS, ""))
    )


def _hold_view(
    scope: PracticeScope, patient_id: str, values: dict[str, str], errors: tuple[FieldError, ...] = ()
) -> HoldView:
    patient = scope.get(Patient, patient_id, "patient")
    return HoldView(
        heading="Hold on a record",
        errors=errors,
        patient_id=patient.id,
        patient=f"{patient.name}, chart {patient.chart_number}",
        kinds=[("", "choose"), *HOLD_KINDS.items()],
        values=values,
        holds=_hold_lines(scope, holds_in_force(scope, date.today(), patient.id)),
    )


@router.post("/retention/holds/{patient_id}")
def place_hold(request: Request, patient_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep a hold."""
    values = {name: form.text(name) for name in HOLD_FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            place_retention_hold(scope, actor, patient_id, **values, today=date.today())
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _hold_view(scope, patient_id, values, errors_of(error, *HOLD_FIELDS))
        return render(request, "pages/retention_hold.html", view, status=422)
    return go_to(f"/retention/holds/{patient_id}", "retention-held")


@router.post("/retention/holds/{hold_id}/lift")
def lift_hold(hold_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """End a hold."""
    with store.writing(actor.practice_id) as scope:
        patient_id = lift_retention_hold(scope, actor, hold_id).patient_id
    return go_to(f"/retention/holds/{patient_id}", "retention-lifted")


@router.post("/retention/erasures")
def confirm(actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A dentist confirms; field ``patient``."""
    with store.writing(actor.practice_id) as scope:
        confirm_erasing(scope, actor, form.text("patient"), date.today())
    return go_to("/retention", "erasing-confirmed")


@router.post("/retention/erasures/{erasure_id}/withdraw")
def withdraw(erasure_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """Take the confirmation back."""
    with store.writing(actor.practice_id) as scope:
        withdraw_erasing(scope, actor, erasure_id)
    return go_to("/retention", "erasing-withdrawn")


@router.post("/retention/erasures/{erasure_id}/carry-out")
def carry_out(request: Request, erasure_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Erase it; field ``chart_number`` where one person does both."""
    try:
        carry_out_erasing(store, actor, erasure_id, chart_number=form.text("chart_number"), today=date.today())
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _view(scope, actor, errors_of(error, *RULE_FIELDS))
        return render(request, "pages/retention.html", view, status=422)
    return go_to("/retention", "erased")


@router.post("/retention/left-files")
def remove_left(actor: CurrentActor, store: StoreDep) -> Response:
    """Take away what an erasing left."""
    remove_left_files(store, actor)
    return go_to("/retention", "left-files-removed")
