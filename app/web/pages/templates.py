"""Templates: the list, one read in full with its technique guidance, copied, and its title edited."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.core.targets import EVERY_ROOT, Target, kind, label, root, teeth
from app.core.template_check import check_template
from app.core.templates import Slot, Template
from app.exchange.shared_data import Projection, builtin_templates, projections
from app.exchange.template_file import read_template
from app.storage.practice import PracticeTemplate
from app.storage.practice_scope import NotFound, PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, ShownNumbering, StoreDep
from app.web.formatting import shown_tooth
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_title
from app.work.actor import DENTISTS
from app.work.templates import copy_template, own_templates, retire_template, save_template

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class TemplateLine:
    """A template in the list."""

    key: str
    title: str
    required: int
    supplementary: int
    own: bool
    version: int
    retired: bool


@dataclass(frozen=True, kw_only=True)
class TemplatesView(View):
    """The practice's own templates, and the built-in ones."""

    own: list[TemplateLine]
    built_in: list[TemplateLine]


@dataclass(frozen=True, kw_only=True)
class SlotReading:
    """A slot with what it shows in words, and the guidance of its projection."""

    slot: Slot
    shows: tuple[str, ...]
    guidance: Projection | None


@dataclass(frozen=True, kw_only=True)
class TemplateView(View):
    """One template in full.

    Parameters
    ----------
    dentition_kind, not_covered : against which full dentition it was checked, and what no required slot shows
    """

    line: TemplateLine
    source: str
    slots: list[SlotReading]
    dentition_kind: str
    targets: int
    not_covered: list[str]
    may_edit: bool
    copy_title: str


@dataclass(frozen=True, kw_only=True)
class TemplateEditView(View):
    """The practice's own template, to be edited slot by slot."""

    line: TemplateLine
    title: str
    slots: list[SlotReading]
    dentition_kind: str
    not_covered: list[str]


def own_row(scope: PracticeScope, key: str) -> PracticeTemplate | None:
    """The newest version of the practice's own template of that key."""
    return next((row for row in own_templates(scope) if row.key == key), None)


def editable(scope: PracticeScope, key: str) -> tuple[PracticeTemplate, Template]:
    """The practice's own template of that key.

    Raises
    ------
    NotFound
        There is none; built-in templates are copied first.
    """
    row = own_row(scope, key)
    if row is None:
        raise NotFound(f'"{key}" is not a template of your own. Open it in the list and copy it first')
    return row, read_template(row.body)


def _line(key: str, template: Template, row: PracticeTemplate | None) -> TemplateLine:
    return TemplateLine(
        key=key,
        title=template.title,
        required=len(template.required_slots),
        supplementary=len(template.slots) - len(template.required_slots),
        own=row is not None,
        version=row.version if row is not None else 1,
        retired=row.retired if row is not None else False,
    )


def shows_in_words(shows: tuple[Target, ...], numbering: Numbering) -> tuple[str, ...]:
    """What a slot shows, gathered by kind, teeth in the numbering that the practice reads."""
    gathered: dict[str, list[str]] = {}
    for target in shows:
        names = [shown_tooth(tooth, numbering) for tooth in teeth(target)]
        code = root(target)
        words = "–".join(names) + (f" {code}" if code not in (None, EVERY_ROOT, "R") else "")
        gathered.setdefault(kind(target), []).append(words)
    titles = {"crown": "Crowns", "apex": "Apices", "contact": "Contacts", "distal": "Distals", "ridge": "Ridges"}
    return tuple(f"{titles[name]} {', '.join(gathered[name])}" for name in titles if name in gathered)


def _readings(template: Template, numbering: Numbering, bone_mm: int) -> list[SlotReading]:
    guidance = projections(bone_mm)
    return [
        SlotReading(
            slot=slot,
            shows=shows_in_words(slot.shows, numbering),
            guidance=guidance.get(slot.projection) if slot.projection else None,
        )
        for slot in template.slots
    ]


def _not_covered(template: Template, numbering: Numbering) -> tuple[str, int, list[str]]:
    found = check_template(template)
    missing = [label(target, numbering) for target in found.not_covered]
    return found.dentition_kind, len(found.times), missing


@router.get("/templates")
def show_templates(request: Request, scope: ReadingDep) -> Response:
    """Every template that a series can be, or could have been, started from."""
    view = TemplatesView(
        heading="Templates",
        own=[_line(row.key, read_template(row.body), row) for row in own_templates(scope)],
        built_in=[_line(key, template, None) for key, template in builtin_templates().items()],
    )
    return render(request, "pages/templates.html", view)


@router.get("/templates/{key}")
def show_template(
    request: Request, key: str, scope: ReadingDep, actor: CurrentActor, numbering: ShownNumbering
) -> Response:
    """Every slot, with what it shows, how it is taken and what makes it acceptable."""
    return render(request, "pages/template.html", _template_view(scope, key, numbering, actor.may(DENTISTS)))


def _template_view(
    scope: PracticeScope,
    key: str,
    numbering: Numbering,
    may_edit: bool,
    errors: tuple[FieldError, ...] = (),
    copy_title: str | None = None,
) -> TemplateView:
    row = own_row(scope, key)
    template = read_template(row.body) if row is not None else builtin_templates().get(key)
    if template is None:
        raise NotFound("no such template in this practice. Go back and choose it from the list")
    dentition_kind, targets, missing = _not_covered(template, numbering)
    return TemplateView(
        heading=template.title,
        errors=errors,
        line=_line(key, template, row),
        source=template.source or "",
        slots=_readings(template, numbering, scope.practice().bone_beyond_apex_mm),
        dentition_kind=dentition_kind,
        targets=targets,
        not_covered=missing,
        may_edit=may_edit,
        copy_title=copy_title if copy_title is not None else f"{template.title}, ours"[:80],
    )


@router.post("/templates/{key}/copy")
def copy(
    request: Request, key: str, actor: CurrentActor, store: StoreDep, numbering: ShownNumbering, form: Posted
) -> Response:
    """A copy of the practice's own, which is then edited."""
    title = form.text("title")
    try:
        with store.writing(actor.practice_id) as scope:
            new_key = copy_template(scope, actor, key, title).key
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _template_view(scope, key, numbering, True, errors_of(error, "title"), title)
        return render(request, "pages/template.html", view, status=422)
    return go_to(f"/templates/{new_key}/edit", "template-copied")


@router.get("/templates/{key}/edit")
def show_edit(request: Request, key: str, scope: ReadingDep, numbering: ShownNumbering) -> Response:
    """Title and slots of the practice's own template."""
    return render(request, "pages/template_edit.html", _edit_view(scope, key, numbering))


def _edit_view(
    scope: PracticeScope,
    key: str,
    numbering: Numbering,
    errors: tuple[FieldError, ...] = (),
    title: str | None = None,
    opened: str | None = None,
) -> TemplateEditView:
    row, template = editable(scope, key)
    dentition_kind, _, missing = _not_covered(template, numbering)
    return TemplateEditView(
        heading=f"Edit {template.title}",
        errors=errors,
        opened=opened_field(seen_title(row)) if opened is None else opened,
        line=_line(key, template, row),
        title=title if title is not None else template.title,
        slots=_readings(template, numbering, scope.practice().bone_beyond_apex_mm),
        dentition_kind=dentition_kind,
        not_covered=missing,
    )


@router.post("/templates/{key}/edit")
def keep_title(
    request: Request, key: str, actor: CurrentActor, store: StoreDep, numbering: ShownNumbering, form: Posted
) -> Response:
    """A new version under another title."""
    title = form.text("title")
    try:
        with store.writing(actor.practice_id) as scope:
            row, template = editable(scope, key)
            check_overtaken(scope, form, seen_title(row), back=f"/templates/{key}/edit")
            save_template(scope, actor, key, replace(template, title=title))
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _edit_view(scope, key, numbering, errors_of(error, "title"), title, form.text(OPENED))
        return render(request, "pages/template_edit.html", view, status=422)
    return go_to(f"/templates/{key}/edit", "template-kept")


@router.post("/templates/{key}/retire")
def retire(key: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Off the list of new series, or back on it."""
    retired = form.text("retired") == "yes"
    with store.writing(actor.practice_id) as scope:
        retire_template(scope, actor, key, retired=retired)
    return go_to("/templates", "template-retired" if retired else "template-back")
