"""One slot of the practice's own template: what kind of view it is, on what receptor, and what it shows."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.core.targets import parse_target
from app.core.templates import ORIENTATIONS, RECEPTOR_SIZES_MM, SLOT_KINDS, Receptor, Slot, Template
from app.exchange.shared_data import projections
from app.exchange.template_file import read_template, write_template
from app.storage.practice import PracticeTemplate
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, ShownNumbering, StoreDep
from app.web.notes import go_to
from app.web.pages.template_boxes import BoxRow, boxed, boxes_of
from app.web.pages.templates import editable
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_slot
from app.work.overtaken import Seen
from app.work.templates import save_template

router = APIRouter(include_in_schema=False)

FIELDS = ("id", "title", "kind", "size", "orientation", "burden", "projection", "others")


@dataclass(frozen=True, kw_only=True)
class SlotFormView(View):
    """The form of one slot, as kept or as typed.

    Parameters
    ----------
    values : the fields' texts
    others : targets that have no box, one a line
    """

    action: str
    template_key: str
    template_title: str
    deed: str
    values: dict[str, str]
    required: bool
    boxes: tuple[BoxRow, ...]
    kinds: list[tuple[str, str, str]]
    sizes: list[tuple[str, str]]
    orientations: list[tuple[str, str]]
    projections: list[tuple[str, str]]


def _values(slot: Slot) -> dict[str, str]:
    having_boxes = boxed()
    return {
        "id": slot.id,
        "title": slot.title,
        "kind": slot.kind,
        "size": str(slot.receptor.size) if slot.receptor is not None else "",
        "orientation": slot.receptor.orientation if slot.receptor is not None else "landscape",
        "burden": f"{slot.burden:g}",
        "projection": slot.projection or "",
        "others": "\n".join(target for target in slot.shows if target not in having_boxes),
    }


def read_posted_slot(form: PostedForm) -> Slot:
    """The slot that the form describes.

    Raises
    ------
    InputError
        At the field of the form.
    """
    shows = [parse_target(text, "others") for text in form.texts("shows")]
    for line, text in enumerate(form.text("others").replace(",", "\n").splitlines(), start=1):
        if text.strip():
            try:
                shows.append(parse_target(text.strip(), "others"))
            except InputError as error:
                raise InputError("others", f"line {line}: {error.message}") from error
    if not shows:
        raise InputError("others", "a view that shows nothing has no use. Tick what it shows")
    size = form.text("size")
    try:
        burden = float(form.text("burden", "1").replace(",", "."))
    except ValueError as error:
        raise InputError(
            "burden", f'"{form.text("burden")}" is not a number. Write one above 0, like 1'
        ) from error
    if size and not (size.isascii() and size.isdigit()):
        raise InputError("size", "choose a receptor size from the list")
    receptor = {"size": int(size), "orientation": form.text("orientation")} if size else None
    return Slot(
        id=form.text("id").strip(),
        kind=form.text("kind"),  # type: ignore[arg-type]  # checked by the slot itself, with its own words
        title=form.text("title").strip() or form.text("id").strip(),
        shows=tuple(dict.fromkeys(shows)),
        receptor=Receptor(**receptor) if receptor is not None else None,  # type: ignore[arg-type]
        burden=burden,
        required=form.flag("required"),
        projection=form.text("projection") or None,
    )


def _view(
    key: str,
    template: Template,
    before: str,
    values: dict[str, str],
    required: bool,
    shows: frozenset[str],
    numbering: Numbering,
    errors: tuple[FieldError, ...] = (),
    opened: str = "",
) -> SlotFormView:
    return SlotFormView(
        heading=f"Slot {before}" if before else "New slot",
        errors=errors,
        opened=opened,
        action=f"/templates/{key}/slots/{before or 'new'}",
        template_key=key,
        template_title=template.title,
        deed="Keep this slot" if before else "Add this slot",
        values=values,
        required=required,
        boxes=boxes_of(shows, numbering),
        kinds=[(each, each.capitalize(), "") for each in SLOT_KINDS],
        sizes=[("", "Not said")]
        + [(str(size), f"{size} ({short} × {long} mm)") for size, (short, long) in RECEPTOR_SIZES_MM.items()],
        orientations=[
            (each, "Portrait: long side upright" if each == "portrait" else "Landscape: long side across")
            for each in reversed(ORIENTATIONS)
        ],
        projections=[("", "None")] + [(each, guidance.title) for each, guidance in projections().items()],
    )


@router.get("/templates/{key}/slots/new")
def show_new_slot(request: Request, key: str, scope: ReadingDep, numbering: ShownNumbering) -> Response:
    """An empty slot."""
    _, template = editable(scope, key)
    values = dict.fromkeys(FIELDS, "") | {
        "kind": "periapical",
        "size": "2",
        "orientation": "landscape",
        "burden": "1",
    }
    view = _view(key, template, "", values, True, frozenset(), numbering)
    return render(request, "pages/template_slot.html", view)


@router.get("/templates/{key}/slots/{slot_id}")
def show_slot(request: Request, key: str, slot_id: str, scope: ReadingDep, numbering: ShownNumbering) -> Response:
    """A slot as it is kept."""
    row, template = editable(scope, key)
    slot = template.slot(slot_id)
    opened = opened_field(_seen(row, slot))
    shows = frozenset(slot.shows)
    view = _view(key, template, slot.id, _values(slot), slot.required, shows, numbering, opened=opened)
    return render(request, "pages/template_slot.html", view)


def _seen(row: PracticeTemplate, slot: Slot) -> Seen:
    having_boxes = boxed()
    shows = [target for target in slot.shows if target in having_boxes]
    return seen_slot(row, _values(slot), shows, required=slot.required)


@router.post("/templates/{key}/slots/new")
def add_slot(
    request: Request, key: str, actor: CurrentActor, store: StoreDep, numbering: ShownNumbering, form: Posted
) -> Response:
    """A further slot, at the end."""
    return _keep(request, key, "", actor, store, numbering, form)


@router.post("/templates/{key}/slots/{slot_id}")
def keep_slot(
    request: Request,
    key: str,
    slot_id: str,
    actor: CurrentActor,
    store: StoreDep,
    numbering: ShownNumbering,
    form: Posted,
) -> Response:
    """The slot as now edited, in a new version of the template."""
    return _keep(request, key, slot_id, actor, store, numbering, form)


def _keep(
    request: Request,
    key: str,
    before: str,
    actor: CurrentActor,
    store: StoreDep,
    numbering: Numbering,
    form: PostedForm,
) -> Response:
    try:
        with store.writing(actor.practice_id) as scope:
            row, template = editable(scope, key)
            if before:
                seen = _seen(row, template.slot(before))
                check_overtaken(scope, form, seen, back=f"/templates/{key}/slots/{before}")
            slot = read_posted_slot(form)
            twin = any(each.id == slot.id and each.id != before for each in template.slots)
            if twin:
                raise InputError("id", f'there is a slot "{slot.id}" already. Give this one another id')
            if slot.id == "new" or "/" in slot.id:
                raise InputError("id", f'"{slot.id}" cannot be an id. Write it like UR-molar')
            slots = tuple(slot if each.id == before else each for each in template.slots)
            changed = replace(template, slots=slots if before else (*slots, slot))
            # Read back as a file would be, so that nothing is kept that could not be opened again.
            save_template(scope, actor, key, read_template(write_template(changed)))
    except InputError as error:
        values = {name: form.text(name) for name in FIELDS}
        shows = frozenset(form.texts("shows"))
        with store.reading(actor.practice_id) as scope:
            _, template = editable(scope, key)
        view = _view(
            key,
            template,
            before,
            values,
            form.flag("required"),
            shows,
            numbering,
            errors_of(error, *FIELDS),
            form.text(OPENED),
        )
        return render(request, "pages/template_slot.html", view, status=422)
    return go_to(f"/templates/{key}/edit#slots", "template-kept")


@router.post("/templates/{key}/slots/{slot_id}/move")
def move_slot(key: str, slot_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """One place earlier or later in the template."""
    with store.writing(actor.practice_id) as scope:
        _, template = editable(scope, key)
        slots = list(template.slots)
        at = slots.index(template.slot(slot_id))
        to = max(0, min(len(slots) - 1, at + (-1 if form.text("to") == "earlier" else 1)))
        slots.insert(to, slots.pop(at))
        save_template(scope, actor, key, replace(template, slots=tuple(slots)))
    return go_to(f"/templates/{key}/edit#slots", "template-kept")


@router.post("/templates/{key}/slots/{slot_id}/remove")
def remove_slot(key: str, slot_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """Take the slot out of the next version."""
    with store.writing(actor.practice_id) as scope:
        _, template = editable(scope, key)
        gone = template.slot(slot_id)
        save_template(
            scope, actor, key, replace(template, slots=tuple(s for s in template.slots if s is not gone))
        )
    return go_to(f"/templates/{key}/edit#slots", "template-kept")
