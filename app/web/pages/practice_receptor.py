"""One receptor: what is normal for it, and from where its images are called faulty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.imaging.thresholds import reasoned_thresholds
from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.versions import Stamp, latest
from app.web.choice import OPENED, check_overtaken, opened_field, opened_of
from app.web.dependencies import CurrentActor, Posted, StoreDep
from app.web.notes import go_to
from app.web.pages.practice import places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import only, seen_values
from app.work.actor import Actor
from app.work.overtaken import Seen
from app.work.receptor_thresholds import (
    ENOUGH,
    NormalMeasure,
    learned_thresholds,
    normal_range_of,
    set_threshold,
    set_thresholds_of,
    thresholds_for,
)
from app.work.staff_names import staff_names

router = APIRouter(include_in_schema=False)

FIELDS = ("name", "value", "reason")


@dataclass(frozen=True, kw_only=True)
class ThresholdLine:
    """One threshold: the usual value, and the one that this receptor has, with whence it comes."""

    name: str
    usual: str
    used: str
    whence: str
    unit: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class SetLine:
    """A threshold that was set, by whom, when and why."""

    name: str
    value: str
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class ReceptorView(View):
    """The page."""

    id: str
    places: list[tuple[str, str, bool]]
    thresholds: tuple[ThresholdLine, ...]
    normal: tuple[NormalMeasure, ...]
    enough: int
    set_before: tuple[SetLine, ...]
    names: list[tuple[str, str]]
    values: dict[str, str]


def _view(
    scope: PracticeScope,
    actor: Actor,
    receptor_id: str,
    values: dict[str, str] | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str | None = None,
) -> ReceptorView:
    receptor = scope.get(Receptor, receptor_id, "receptor")
    used = thresholds_for(scope, receptor.id) or {}
    learned = learned_thresholds(scope, receptor.id)
    own: dict[str, float | None] = {}
    for row in set_thresholds_of(scope, receptor.id):
        own.setdefault(row.name, row.value)
    staff = staff_names(scope)
    table = reasoned_thresholds()
    return ReceptorView(
        heading=receptor.name,
        errors=errors,
        opened=opened_field(_seen(scope, receptor.id)) if opened is None else opened,
        id=receptor.id,
        places=places("/practice/rooms", actor),
        thresholds=tuple(
            ThresholdLine(
                name=name,
                usual=f"{each.value:g}",
                used=f"{used.get(name, each.value):g}",
                whence=_whence(name, own, learned),
                unit=each.unit,
                reason=each.reason,
            )
            for name, each in table.items()
        ),
        normal=tuple(normal_range_of(scope, actor, receptor.id)),
        enough=ENOUGH,
        set_before=tuple(
            SetLine(
                name=each.name,
                value="the usual one again" if each.value is None else f"{each.value:g}",
                reason=each.reason,
                by=staff.get(each.set_by, "somebody unknown"),
                at=each.set_at,
            )
            for each in set_thresholds_of(scope, receptor.id)
        ),
        names=[("", "Choose a threshold"), *((name, name) for name in table)],
        values=dict.fromkeys(FIELDS, "") | (values or {}),
    )


def _seen(scope: PracticeScope, receptor_id: str) -> Seen:
    """What is set for each threshold, and why; a threshold is only shown, and set by a new row."""
    rows = set_thresholds_of(scope, receptor_id)
    fields = dict.fromkeys((f"?{name}" for name in reasoned_thresholds()), "the usual one")
    for row in reversed(rows):
        value = "the usual one" if row.value is None else f"{row.value:g}"
        fields[f"?{row.name}"] = f"{value} ({row.reason})"
    return seen_values(fields, {}, latest(Stamp(row.set_by, row.set_at) for row in rows))


def _whence(name: str, own: Mapping[str, float | None], learned: Mapping[str, float]) -> str:
    if own.get(name) is not None:
        return "set by a dentist"
    return "learned from its own images" if name in learned else ""


@router.get("/practice/receptors/{receptor_id}")
def show_receptor(request: Request, receptor_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """What is normal for it, and its thresholds."""
    with store.reading(actor.practice_id) as scope:
        view = _view(scope, actor, receptor_id)
    return render(request, "pages/practice_receptor.html", view)


@router.post("/practice/receptors/{receptor_id}/thresholds")
def keep_threshold(
    request: Request, receptor_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Set a threshold for it; images to come are measured by it."""
    values = {name: form.text(name) for name in FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            receptor = scope.held(Receptor, receptor_id, "receptor")
            opened = opened_of(form)
            if opened is not None:
                seen = _seen(scope, receptor.id)
                wanted = only(seen, opened.fields, opened.fields, [f"?{values['name']}"])
                check_overtaken(scope, form, seen, back=f"/practice/receptors/{receptor_id}", wanted=wanted)
            set_threshold(scope, actor, receptor_id, **values)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            errors = errors_of(error, *FIELDS)
            view = _view(scope, actor, receptor_id, values, errors, form.text(OPENED))
        return render(request, "pages/practice_receptor.html", view, status=422)
    return go_to(f"/practice/receptors/{receptor_id}", "threshold-kept")
