"""Letters and messages: the practice's texts, whom they go to, and the sheets or the table; nothing is sent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response

from app.core.errors import InputError
from app.storage.letters import LetterText
from app.storage.practice_scope import PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.imports import csv_answer
from app.web.pages.recall import places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_text
from app.work.actor import DESK
from app.work.exports import merge_csv
from app.work.letters import (
    KINDS,
    MOST,
    PLACEHOLDERS,
    Addressee,
    Prepared,
    add_example_texts,
    addressees,
    letter_texts,
    prepare_letters,
    retire_letter_text,
    save_letter_text,
    written_letters,
)
from app.work.recall_filter import RecallFilter
from app.work.recall_list import recall_patient_ids

router = APIRouter(include_in_schema=False)

TEXT_FIELDS = ("kind", "title", "subject", "body")
Chosen = list[str]


@dataclass(frozen=True, kw_only=True)
class TextsView(View):
    """The practice's texts."""

    texts: list[LetterText]
    retired: list[LetterText]
    kinds: dict[str, str]
    may_write: bool
    places: list[tuple[str, str, bool]]


@dataclass(frozen=True, kw_only=True)
class TextFormView(View):
    """A text as typed."""

    action: str
    values: dict[str, str]
    kinds: list[tuple[str, str, str]]
    placeholders: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class NewLettersView(View):
    """Whom a text goes to, and the texts to choose from."""

    people: list[Addressee]
    texts: list[tuple[str, str, str]]
    text: str
    may_write: bool
    most: int


@dataclass(frozen=True, kw_only=True)
class PreparedView(View):
    """The letters or messages, filled."""

    kind: str
    title: str
    letters: list[Prepared]
    practice: str
    today: date
    merge: str


@router.get("/letters")
def show_texts(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """The texts, and how they are used."""
    rows = letter_texts(scope)
    view = TextsView(
        heading="Letters and messages",
        texts=[row for row in rows if not row.retired],
        retired=[row for row in rows if row.retired],
        kinds=KINDS,
        may_write=actor.may(DESK),
        places=places("/letters", actor),
    )
    return render(request, "pages/letter_texts.html", view)


def _text_form(
    action: str, values: dict[str, str], errors: tuple[FieldError, ...] = (), opened: str = ""
) -> TextFormView:
    return TextFormView(
        heading="New text" if action.endswith("/new") else "Edit text",
        errors=errors,
        opened=opened,
        action=action,
        values=values,
        kinds=[(key, words.capitalize(), "") for key, words in KINDS.items()],
        placeholders=PLACEHOLDERS,
    )


@router.get("/letters/texts/new")
def show_new_text(request: Request) -> Response:
    """The empty form."""
    values = dict.fromkeys(TEXT_FIELDS, "") | {"kind": "letter"}
    return render(request, "pages/letter_text.html", _text_form("/letters/texts/new", values))


@router.post("/letters/texts/new")
def add_text(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep a new text."""
    return _save(request, actor, store, form, "", "/letters/texts/new")


@router.post("/letters/texts/examples")
def add_examples(actor: CurrentActor, store: StoreDep) -> RedirectResponse:
    """Begin with the three examples."""
    with store.writing(actor.practice_id) as scope:
        add_example_texts(scope, actor)
    return go_to("/letters", "letter-text-kept")


@router.get("/letters/texts/{text_id}")
def show_text(request: Request, text_id: str, scope: ReadingDep) -> Response:
    """The form with the text as it is."""
    row = scope.get(LetterText, text_id, "text")
    values = {name: str(getattr(row, name)) for name in TEXT_FIELDS}
    view = _text_form(f"/letters/texts/{text_id}", values, opened=opened_field(seen_text(row)))
    return render(request, "pages/letter_text.html", view)


@router.post("/letters/texts/{text_id}")
def edit_text(request: Request, text_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Keep the text as it is now."""
    return _save(request, actor, store, form, text_id, f"/letters/texts/{text_id}")


def _save(
    request: Request, actor: CurrentActor, store: StoreDep, form: Posted, text_id: str, action: str
) -> Response:
    values = {name: form.text(name) for name in TEXT_FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            if text_id:
                seen = seen_text(scope.held(LetterText, text_id, "text"))
                check_overtaken(scope, form, seen, back=action)
            save_letter_text(scope, actor, text_id, **values)
    except InputError as error:
        view = _text_form(action, values, errors_of(error, *TEXT_FIELDS), form.text(OPENED))
        return render(request, "pages/letter_text.html", view, status=422)
    return go_to("/letters", "letter-text-kept")


@router.post("/letters/texts/{text_id}/retire")
def retire_text(text_id: str, actor: CurrentActor, store: StoreDep, form: Posted) -> RedirectResponse:
    """Off the list, or back."""
    retired = form.flag("retired")
    with store.writing(actor.practice_id) as scope:
        retire_letter_text(scope, actor, text_id, retired=retired)
    return go_to("/letters", "letter-text-retired" if retired else "letter-text-back")


@router.get("/letters/new")
def choose_by_link(
    request: Request,
    scope: ReadingDep,
    actor: CurrentActor,
    patient: Chosen = Query(default=[]),  # noqa: B008
) -> Response:
    """Choose a text for the patients of the address: named one by one, or all that a filter of the list shows."""
    if not patient and "when" in request.query_params:
        asked = RecallFilter.from_query(request.query_params)
        patient = recall_patient_ids(scope, asked, date.today(), MOST)
    return _choose(request, scope, actor, patient)


@router.post("/letters/new")
def choose_by_form(request: Request, scope: ReadingDep, actor: CurrentActor, form: Posted) -> Response:
    """Choose a text for the patients ticked on the recall list."""
    return _choose(request, scope, actor, form.texts("patient"))


def _choose(
    request: Request,
    scope: PracticeScope,
    actor: CurrentActor,
    patient_ids: list[str],
    text: str = "",
    errors: tuple[FieldError, ...] = (),
) -> Response:
    people: list[Addressee] = []
    if not errors or errors[0].field != "":
        try:
            people = addressees(scope, patient_ids)
        except InputError as error:
            errors = (FieldError(field="", message=error.message),)
    texts = [(row.id, row.title, KINDS[row.kind]) for row in letter_texts(scope) if not row.retired]
    view = NewLettersView(
        heading="Write to patients",
        errors=errors,
        people=people,
        texts=texts,
        text=text,
        may_write=actor.may(DESK),
        most=MOST,
    )
    return render(request, "pages/letter_new.html", view, status=422 if errors else 200)


@router.post("/letters/prepare")
def prepare(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Fill the text, note it for each patient, and show the sheets."""
    patient_ids, text_id = form.texts("patient"), form.text("text")
    try:
        with store.writing(actor.practice_id) as scope:
            prepare_letters(scope, actor, text_id=text_id, patient_ids=patient_ids, today=date.today())
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            return _choose(request, scope, actor, patient_ids, text_id, errors_of(error, "text"))
    return go_to(f"/letters/prepared?{_query(text_id, patient_ids)}", "letters-prepared")


def _query(text_id: str, patient_ids: list[str]) -> str:
    """Which text and whom, as it stands in an address: no names."""
    return urlencode([("text", text_id), *(("patient", each) for each in patient_ids[:MOST])])


@router.get("/letters/prepared")
def show_prepared(
    request: Request,
    scope: ReadingDep,
    text: str = "",
    patient: Chosen = Query(default=[]),  # noqa: B008
) -> Response:
    """The sheets to print, or the messages to copy."""
    today = date.today()
    row, letters = written_letters(scope, text, patient, today=today)
    view = PreparedView(
        heading=f"{row.title}: {len(letters)} prepared",
        kind=row.kind,
        title=row.title,
        letters=letters,
        practice=scope.practice().name,
        today=today,
        merge=f"/letters/merge.csv?{_query(text, patient)}",
    )
    return render(request, "pages/letter_prepared.html", view)


@router.get("/letters/merge.csv")
def merge(
    scope: ReadingDep,
    actor: CurrentActor,
    text: str = "",
    patient: Chosen = Query(default=[]),  # noqa: B008
) -> Response:
    """The same as a table, for a mail merge elsewhere."""
    today = date.today()
    _, letters = written_letters(scope, text, patient, today=today)
    return csv_answer(f"letters-{today.isoformat()}.csv", merge_csv(actor, letters))
