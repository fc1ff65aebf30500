"""The practice's templates: built-in ones, and its own copies, of which every version stays."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace

from app.core.errors import InputError, did_you_mean
from app.core.templates import Template, with_canine_view_owing
from app.exchange.shared_data import builtin_templates, owed_by_canine_view
from app.exchange.template_file import read_template, write_template
from app.storage.columns import now
from app.storage.practice import Practice, PracticeTemplate
from app.storage.practice_scope import PracticeScope
from app.work.actor import DENTISTS, Actor, require
from app.work.text import checked_line


def own_templates(scope: PracticeScope) -> Sequence[PracticeTemplate]:
    """The newest version of each template of the practice's own, retired ones too, by title."""
    newest: dict[str, PracticeTemplate] = {}
    for row in scope.all(scope.select(PracticeTemplate).order_by(PracticeTemplate.version)):  # type: ignore[arg-type]
        newest[row.key] = row
    return sorted(newest.values(), key=lambda row: row.title)


def choosable_templates(scope: PracticeScope) -> dict[str, Template]:
    """What a series can be started from, by key: built-in templates, then the practice's own."""
    own = {row.key: read_template(row.body) for row in own_templates(scope) if not row.retired}
    return builtin_templates() | own


def template_of(scope: PracticeScope, key: str) -> Template:
    """A template that can be chosen.

    Raises
    ------
    InputError
        At ``template``: no such one.
    """
    known = choosable_templates(scope)
    if key not in known:
        raise InputError("template", f'no template "{key}". Choose one from the list.' + did_you_mean(key, known))
    return known[key]


def as_practised(template: Template, practice: Practice) -> Template:
    """The template with the practice's choices applied, as a new series freezes it."""
    return with_canine_view_owing(template, owed_by_canine_view(practice.upper_canine_lateral))


def copy_template(scope: PracticeScope, actor: Actor, key: str, title: str) -> PracticeTemplate:
    """A copy of the practice's own, to be edited."""
    require(actor, DENTISTS, "copy templates")
    original = template_of(scope, key)
    name = checked_line(title, "title", longest=80)
    taken = {row.key for row in own_templates(scope)} | set(builtin_templates())
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "template"
    new_key, number = stem, 2
    while new_key in taken:
        new_key, number = f"{stem}-{number}", number + 1
    copied = replace(original, id=new_key, title=name)
    return scope.add(
        PracticeTemplate(
            key=new_key, title=name, body=write_template(copied), derived_from=key, edited_by=actor.staff_id
        )
    )


def save_template(scope: PracticeScope, actor: Actor, key: str, template: Template) -> PracticeTemplate:
    """A new version; series already started keep the one they froze."""
    require(actor, DENTISTS, "edit templates")
    before = _own(scope, key)
    kept = replace(template, id=key, title=checked_line(template.title, "title", longest=80))
    return scope.add(
        PracticeTemplate(
            key=key,
            title=kept.title,
            body=write_template(kept),
            version=before.version + 1,
            derived_from=before.derived_from,
            retired=before.retired,
            edited_at=now(),
            edited_by=actor.staff_id,
        )
    )


def retire_template(scope: PracticeScope, actor: Actor, key: str, *, retired: bool) -> PracticeTemplate:
    """Take the practice's own template off the list of new series, or put it back."""
    require(actor, DENTISTS, "retire templates")
    row = _own(scope, key)
    row.retired = retired
    scope.session.add(row)
    return row


def _own(scope: PracticeScope, key: str) -> PracticeTemplate:
    for row in own_templates(scope):
        if row.key == key:
            return row
    raise InputError("template", f'"{key}" is not a template of your own. Copy it first, then edit the copy')
