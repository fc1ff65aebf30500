"""How files find their slots: the exposure order of each template, and file-name patterns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError, did_you_mean
from app.core.templates import Template
from app.storage.practice import Practice
from app.storage.practice_scope import NotFound, PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.practice import places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_order, seen_patterns
from app.work.actor import Actor
from app.work.assign import exposure_order
from app.work.practice import save_orders
from app.work.templates import choosable_templates

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class OrderLine:
    """A template and whether the practice has an order of its own for it."""

    key: str
    title: str
    own: bool


@dataclass(frozen=True, kw_only=True)
class LoadingView(View):
    """The templates' orders, and the patterns as text."""

    places: list[tuple[str, str, bool]]
    orders: list[OrderLine]
    patterns: str
    slots: list[str]


@dataclass(frozen=True, kw_only=True)
class OrderView(View):
    """The exposure order of one template: for each place in the order a slot."""

    places: list[tuple[str, str, bool]]
    key: str
    title: str
    order: list[str]
    slots: list[tuple[str, str]]


def read_patterns(text: str, known: Sequence[str]) -> list[dict[str, str]]:
    """The patterns, one a line: the pattern, an equals sign, the slot.

    Raises
    ------
    InputError
        At ``patterns``, naming the line.
    """
    found: list[dict[str, str]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        pattern, equals, slot = (part.strip() for part in line.rpartition("="))
        if not equals:
            message = f'line {number}: "{line.strip()[:60]}" names no slot. Write it like *_ur6* = UR-molar'
            raise InputError("patterns", message)

        if not pattern.strip("*?. "):
            raise InputError(
                "patterns", f'line {number}: "{pattern}" would fit every file. Write some letters too'
            )
        if slot not in known:
            message = f'line {number}: no template has a slot "{slot}".' + did_you_mean(slot, known)
            raise InputError("patterns", message)
        found.append({"pattern": pattern, "slot": slot})
    return found


def _slot_ids(templates: dict[str, Template]) -> list[str]:
    return sorted({slot.id for template in templates.values() for slot in template.slots})


def _kept_patterns(practice: Practice) -> str:
    return "\n".join(f"{each['pattern']} = {each['slot']}" for each in practice.file_name_patterns)


def _loading(
    scope: PracticeScope,
    actor: Actor,
    patterns: str | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str | None = None,
) -> LoadingView:
    practice = scope.practice()
    templates = choosable_templates(scope)
    kept = _kept_patterns(practice)
    return LoadingView(
        heading="Loading images",
        errors=errors,
        opened=opened_field(seen_patterns(practice, kept)) if opened is None else opened,
        places=places("/practice/loading", actor),
        orders=[
            OrderLine(key=key, title=template.title, own=bool(practice.exposure_orders.get(key)))
            for key, template in templates.items()
        ],
        patterns=kept if patterns is None else patterns,
        slots=_slot_ids(templates),
    )


@router.get("/practice/loading")
def show_loading(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Orders and patterns."""
    return render(request, "pages/practice_loading.html", _loading(scope, actor))


@router.post("/practice/loading/file-names")
def keep_patterns(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep the patterns, tried from the first line to the last."""
    text = form.text("patterns")
    try:
        with store.writing(actor.practice_id) as scope:
            seen = seen_patterns(scope.practice(), _kept_patterns(scope.practice()))
            check_overtaken(scope, form, seen, back="/practice/loading")
            patterns = read_patterns(text, _slot_ids(choosable_templates(scope)))
            save_orders(scope, actor, template_key="", order=(), patterns=patterns)
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _loading(scope, actor, text, errors_of(error, "patterns"), form.text(OPENED))
        return render(request, "pages/practice_loading.html", view, status=422)
    return go_to("/practice/loading", "file-names-kept")


def _template(scope: PracticeScope, key: str) -> Template:
    template = choosable_templates(scope).get(key)
    if template is None:
        raise NotFound("no such template in this practice. Go back and choose it from the list")
    return template


def _order(
    practice: Practice,
    actor: Actor,
    key: str,
    template: Template,
    order: list[str] | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str | None = None,
) -> OrderView:
    seen = seen_order(practice, exposure_order(template, key, practice))
    return OrderView(
        heading=f"Exposure order of {template.title}",
        errors=errors,
        opened=opened_field(seen) if opened is None else opened,
        places=places("/practice/loading", actor),
        key=key,
        title=template.title,
        order=order if order is not None else exposure_order(template, key, practice),
        slots=[(slot.id, f"{slot.title} ({slot.id})") for slot in template.required_slots],
    )


@router.get("/practice/loading/{key}")
def show_order(request: Request, key: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The order of one template."""
    view = _order(scope.practice(), actor, key, _template(scope, key))
    return render(request, "pages/practice_order.html", view)


@router.post("/practice/loading/{key}")
def keep_order(request: Request, key: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep it; or with "as the template lists them", forget the practice's own."""
    order = [] if form.text("as") == "listed" else [slot for slot in form.texts("slot") if slot]
    try:
        with store.writing(actor.practice_id) as scope:
            template = _template(scope, key)
            practice = scope.practice()
            seen = seen_order(practice, exposure_order(template, key, practice))
            wanted = {"slot": tuple(order) or tuple(slot.id for slot in template.required_slots)}
            check_overtaken(scope, form, seen, back=f"/practice/loading/{key}", wanted=wanted)
            if len(set(order)) != len(order):
                twin = next(slot for slot in order if order.count(slot) > 1)
                raise InputError("order", f"{template.slot(twin).title} stands twice. Name each view once")
            save_orders(scope, actor, template_key=key, order=order, patterns=list(practice.file_name_patterns))
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            errors = errors_of(error, "order")
            view = _order(scope.practice(), actor, key, _template(scope, key), order, errors, form.text(OPENED))
        return render(request, "pages/practice_order.html", view, status=422)
    return go_to("/practice/loading", "order-kept")
