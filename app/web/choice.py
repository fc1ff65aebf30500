"""A form that a colleague has overtaken: what it carries to notice that, and the page with the choice.

Each form that two people may have open sends along, hidden, what it showed (`opened_field`). Before it is written,
`check_overtaken` compares that with the rows as they are now. The answer to a form that came too late is a page
that shows both changes field by field, holds everything that was typed, and asks what is to stand.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fastapi import Request
from fastapi.responses import JSONResponse, Response

from app.core.errors import InputError
from app.core.overtaking import TICK, Fields, Values, both, can_have_both
from app.storage.practice_scope import PracticeScope
from app.web.csrf import FIELD as TOKEN_FIELD
from app.web.dependencies import PostedForm
from app.web.errors import wants_json
from app.web.rendering import View, render, shell_of
from app.work.overtaken import Change, Opened, Overtaken, Seen, refuse_overtaken

OPENED = "opened"
"""Name of the hidden field."""

ONLY_SHOWN = "?"
"""Begins the name of what a form shows but does not send."""

Pairs = tuple[tuple[str, str], ...]


def opened_field(seen: Seen) -> str:
    """What the hidden field holds: the versions, and every field as it is now."""
    return json.dumps(
        {"version": seen.version, "fields": canonical(seen.fields)},
        ensure_ascii=False,
        separators=(",", ":"),
    )


def opened_of(form: PostedForm) -> Opened | None:
    """What the form showed when it was opened; None where it does not say.

    Raises
    ------
    InputError
        The hidden field is not what a form of ours sends.
    """
    text = form.text(OPENED)
    if not text:
        return None
    try:
        data = json.loads(text)
        fields = {str(name): tuple(str(value) for value in values) for name, values in data["fields"].items()}
        return Opened(version=str(data["version"]), fields=fields)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise InputError(OPENED, "this form was damaged on its way. Load the page again and repeat it") from None


def as_sent(value: str) -> str:
    """A value as it is compared: browsers send line ends in their own way, and blanks at the ends are not kept."""
    return "\n".join(line.rstrip() for line in value.strip().splitlines())


def canonical(fields: Fields) -> dict[str, Values]:
    """The fields as they are compared."""
    return {name: tuple(as_sent(value) for value in values) for name, values in fields.items()}


def wanted_of(form: PostedForm, opened: Opened, boxes: Sequence[str] = ()) -> dict[str, Values]:
    """The fields as the person sent them; what a form only shows, they want as it was.

    Parameters
    ----------
    boxes : names under which several boxes may be ticked
    """
    wanted: dict[str, Values] = {}
    for name, values in opened.fields.items():
        if name.startswith(ONLY_SHOWN):
            wanted[name] = values
        elif TICK in name:
            field, _, value = name.partition(TICK)
            wanted[name] = ("yes",) if value in form.texts(field) else ()
        else:
            wanted[name] = tuple(as_sent(value) for value in form.texts(name)) or ("",)
    for field in boxes:
        wanted |= {f"{field}{TICK}{value}": ("yes",) for value in form.texts(field)}
    return wanted


def check_overtaken(
    scope: PracticeScope, form: PostedForm, now: Seen, *, back: str, wanted: Fields | None = None
) -> None:
    """Let the form be written, unless a colleague overtook it.

    Parameters
    ----------
    back : address of the page as it is now, for who wants to keep what the colleague wrote
    wanted : the fields as the person wants them; by default as they stand in the form

    Raises
    ------
    Overtaken
        Answered with the choice.
    """
    opened = opened_of(form)
    if opened is None:
        return
    as_compared = replace(now, fields=canonical(now.fields))
    try:
        refuse_overtaken(
            scope,
            opened,
            as_compared,
            canonical(wanted) if wanted is not None else wanted_of(form, opened, now.boxes),
        )
    except Overtaken as overtaken:
        raise ToChoose(overtaken, form, back) from overtaken


class ToChoose(Overtaken):
    """A form that was overtaken, with all that was typed in it."""

    def __init__(self, overtaken: Overtaken, form: PostedForm, back: str) -> None:
        super().__init__(overtaken.changes, overtaken.seen)
        self.back = back
        # Made while the transaction still stands: what it read is let go when it is undone.
        self.opened = opened_field(overtaken.seen)
        self.typed: Pairs = tuple(
            (name, value)
            for name, value in form.data.multi_items()
            if isinstance(value, str) and name not in (OPENED, TOKEN_FIELD)
        )


@dataclass(frozen=True, kw_only=True)
class ChangeLine:
    """One field of the choice; ``who`` is who of the two changed it: "both", "theirs" or "yours"."""

    change: Change
    who: str


@dataclass(frozen=True, kw_only=True)
class ChoiceView(View):
    """The choice.

    Parameters
    ----------
    people : who changed something meanwhile, in words
    mine, both : everything that is sent to save the person's own, or both; ``both`` is empty where they clash
    opened : the hidden field for either
    """

    people: str
    lines: tuple[ChangeLine, ...]
    action: str
    back: str
    mine: Pairs
    both: Pairs
    opened: str


def merged(typed: Pairs, changes: Sequence[Change]) -> Pairs:
    """What was typed, with the colleague's values in the fields that the person left as they were."""
    values = both(tuple(each.met for each in changes))
    theirs = [each.met.field for each in changes if not each.met.yours]
    pairs = list(typed)
    for name in theirs:
        if name.startswith(ONLY_SHOWN):
            continue
        field, tick, value = name.partition(TICK)
        if tick:
            pairs = [each for each in pairs if each != (field, value)]
            pairs += [(field, value)] if values[name] else []
        else:
            pairs = [each for each in pairs if each[0] != name]
            pairs += [(name, each) for each in values[name]]
    return tuple(pairs)


def _line(change: Change) -> ChangeLine:
    met = change.met
    return ChangeLine(
        change=change, who="both" if met.theirs and met.yours else "theirs" if met.theirs else "yours"
    )


def choice_view(error: ToChoose, action: str, reader: str) -> ChoiceView:
    """The page for a form that was overtaken; ``reader`` is the name of the person who sees it."""
    named = {each.by or "a colleague" for each in error.changes if each.met.theirs}
    said = sorted(named - {reader}) + (["you yourself, in another window,"] if reader in named else [])
    people = " and ".join(said)
    telling = [each for each in error.changes if not each.met.field.startswith(error.seen.aside or ("\0",))]
    mergeable = can_have_both(tuple(each.met for each in error.changes))
    return ChoiceView(
        heading="Changed meanwhile",
        people=people[:1].upper() + people[1:],
        lines=tuple(_line(each) for each in (telling or error.changes)),
        action=action,
        back=error.back,
        mine=error.typed,
        both=merged(error.typed, error.changes) if mergeable else (),
        opened=error.opened,
    )


async def on_overtaken(request: Request, error: Exception) -> Response:
    """Answer a form that was overtaken: the choice for a person, one sentence for a script."""
    assert isinstance(error, ToChoose)
    if wants_json(request):
        return JSONResponse({"error": {"status": 409, "path": "", "message": str(error)}}, status_code=409)
    action = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return render(request, "pages/choice.html", choice_view(error, action, shell_of(request).person), status=409)
