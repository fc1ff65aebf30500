"""Letters and messages to patients of the recall list: the practice's own texts, filled. Nothing is sent."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import col

from app.core.errors import InputError
from app.core.notation.dates import MONTH_NAMES
from app.core.notation.placeholders import check_placeholders, filled, placeholders
from app.storage.columns import now
from app.storage.imports import in_chunks, patients_by_id
from app.storage.letters import LetterText
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import ContactNote, RecallItem
from app.work.actor import DESK, TEAM, Actor, require
from app.work.recall_contacts import note_contact
from app.work.text import checked_line

KINDS = {"letter": "letter", "email": "e-mail", "text": "text message"}

PLACEHOLDERS = {
    "name": "the patient's name",
    "chart_number": "the chart number",
    "due_date": "the day due, like 27 March 2026",
    "due_month": "the month due, like March 2026",
    "today": "the day on which it is prepared",
    "practice": "the practice's name",
}
"""What a text can hold, with what stands there instead."""

LONGEST = {"letter": 4000, "email": 4000, "text": 480}
"""Characters of a text by its kind; a short message is then at most a few parts."""

MOST = 500
"""Patients written to at once."""

EXAMPLES = (
    (
        "letter",
        "Recall letter",
        "Your next appointment",
        "Dear {name},\n\nour records show that we may be due to see you in {due_month}. Please call us to arrange "
        "a time that suits you. Your dentist decides with you what is needed.\n\nKind regards\n{practice}",
    ),
    (
        "email",
        "Recall e-mail",
        "Your next appointment at {practice}",
        "Dear {name},\n\nit is time to arrange your next appointment. Please call us or answer this message.\n\n"
        "Kind regards\n{practice}",
    ),
    ("text", "Recall message", "", "{practice}: please call us to arrange your next appointment."),
)
"""Texts to begin with: kind, title, subject, body."""


def letter_texts(scope: PracticeScope) -> Sequence[LetterText]:
    """The practice's texts, retired ones too, by kind and title."""
    return scope.all(scope.select(LetterText).order_by(col(LetterText.kind), col(LetterText.title)))


def save_letter_text(
    scope: PracticeScope,
    actor: Actor,
    text_id: str = "",
    *,
    kind: str,
    title: str,
    subject: str,
    body: str,
) -> LetterText:
    """Keep a new text, or a known one as it is now.

    Raises
    ------
    InputError
        At the field: empty, too long, a placeholder that is not known, or a title that another text has.
    """
    require(actor, DESK, "write letter texts")
    row = scope.get(LetterText, text_id, "text") if text_id else None
    if kind not in KINDS:
        raise InputError("kind", "choose letter, e-mail or text message")
    clean_title = checked_line(title, "title", longest=80)
    twin = scope.first(scope.select(LetterText).where(LetterText.title == clean_title))
    if twin is not None and (row is None or twin.id != row.id):
        raise InputError("title", f'there is a text "{clean_title}" already. Choose another title')
    clean_subject = checked_line(subject, "subject", empty=kind == "text")
    if kind == "text":
        clean_subject = ""
    check_placeholders(clean_subject, PLACEHOLDERS, "subject")
    clean_body = _checked_body(body, kind)
    if row is None:
        row = LetterText(kind=kind, title=clean_title, body="", version=0, edited_by=actor.staff_id)
    row.kind, row.title, row.subject, row.body = kind, clean_title, clean_subject, clean_body
    row.version, row.edited_by, row.edited_at = row.version + 1, actor.staff_id, now()
    return scope.add(row)


def _checked_body(body: str, kind: str) -> str:
    text = unicodedata.normalize("NFC", body.replace("\r\n", "\n").replace("\r", "\n")).strip()
    if not text:
        raise InputError("body", "this is empty. Write the text")
    if len(text) > LONGEST[kind]:
        raise InputError("body", f"this has {len(text)} characters; {LONGEST[kind]} are the most. Shorten it")
    if any(unicodedata.category(letter) in ("Cc", "Cs") and letter != "\n" for letter in text):
        raise InputError("body", "this holds a character that cannot be shown. Type it again")
    check_placeholders(text, PLACEHOLDERS, "body")
    return text


def add_example_texts(scope: PracticeScope, actor: Actor) -> None:
    """Put the texts to begin with in, those whose title is not there yet."""
    require(actor, DESK, "write letter texts")
    known = {row.title for row in letter_texts(scope)}
    for kind, title, subject, body in EXAMPLES:
        if title not in known:
            save_letter_text(scope, actor, kind=kind, title=title, subject=subject, body=body)


def retire_letter_text(scope: PracticeScope, actor: Actor, text_id: str, *, retired: bool) -> None:
    """Take a text off the list, or put it back."""
    require(actor, DESK, "write letter texts")
    row = scope.get(LetterText, text_id, "text")
    row.retired = retired
    scope.session.add(row)


@dataclass(frozen=True, kw_only=True)
class Addressee:
    """A chosen patient.

    Parameters
    ----------
    due_on : the earliest day due of the patient's lines; None where there is none
    held_for : why the patient is on hold; empty where not
    """

    patient: Patient
    due_on: date | None
    held_for: str


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """A letter or message as it would leave the practice."""

    to: Addressee
    subject: str
    body: str


def addressees(scope: PracticeScope, patient_ids: Sequence[str]) -> list[Addressee]:
    """The chosen patients, each once, in the order chosen; ids that are not of this practice are passed over.

    Raises
    ------
    InputError
        At ``patient``: nobody, or more than can be written to at once.
    """
    ids = list(dict.fromkeys(patient_ids))
    if len(ids) > MOST:
        raise InputError("patient", f"these are {len(ids)} patients; {MOST} are the most at once. Choose fewer")
    patients = patients_by_id(scope, ids)
    if not patients:
        raise InputError("patient", "nobody is chosen. Go to the recall list, and write to a part of it")
    due: dict[str, date] = {}
    held: dict[str, str] = {}
    for some in in_chunks(patients):
        for item in scope.all(scope.select(RecallItem).where(col(RecallItem.patient_id).in_(some))):
            if item.due_on is not None:
                due[item.patient_id] = min(item.due_on, due.get(item.patient_id, item.due_on))
            if item.state == "held":
                held[item.patient_id] = item.held_for
    return [
        Addressee(patient=patients[key], due_on=due.get(key), held_for=held.get(key, ""))
        for key in ids
        if key in patients
    ]


def written_letters(
    scope: PracticeScope, text_id: str, patient_ids: Sequence[str], *, today: date
) -> tuple[LetterText, list[Prepared]]:
    """The text filled for each of the patients.

    Raises
    ------
    InputError
        At ``text``: none chosen, or it names a due date that somebody does not have (names them).
    """
    people = addressees(scope, patient_ids)
    text = scope.find(LetterText, text_id)
    if text is None or text.retired:
        raise InputError("text", "choose a text")
    used = set(placeholders(f"{text.subject}\n{text.body}"))
    without = [each.patient.name for each in people if each.due_on is None]
    if without and used & {"due_date", "due_month"}:
        names = ", ".join(without[:5]) + (f" and {len(without) - 5} more" if len(without) > 5 else "")
        raise InputError(
            "text", f"it names a day due, and there is none for {names}. Take them out, or choose another"
        )
    practice = scope.practice().name
    return text, [_written(text, each, practice, today) for each in people]


def _written(text: LetterText, to: Addressee, practice: str, today: date) -> Prepared:
    values = {
        "name": to.patient.name,
        "chart_number": to.patient.chart_number,
        "due_date": long_day(to.due_on) if to.due_on else "",
        "due_month": long_day(to.due_on).split(" ", 1)[1] if to.due_on else "",
        "today": long_day(today),
        "practice": practice,
    }
    return Prepared(to=to, subject=filled(text.subject, values), body=filled(text.body, values))


def long_day(day: date) -> str:
    """The day in full.

    Examples
    --------
    >>> long_day(date(2026, 3, 27))
    '27 March 2026'
    """
    return f"{day.day} {MONTH_NAMES[day.month - 1].capitalize()} {day.year}"


def prepare_letters(
    scope: PracticeScope, actor: Actor, *, text_id: str, patient_ids: Sequence[str], today: date
) -> list[Prepared]:
    """Fill the text for each of the patients, and note it among the patient's contacts.

    Nothing is sent: printing and posting are the practice's. Doing the same again on one day is noted once.

    Raises
    ------
    InputError
        As `written_letters`.
    """
    require(actor, TEAM, "prepare letters")
    text, letters = written_letters(scope, text_id, patient_ids, today=today)
    note = f"{KINDS[text.kind]} prepared: {text.title}"
    noted = _noted_today(scope, [each.to.patient.id for each in letters], note, today)
    for each in letters:
        if each.to.patient.id not in noted:
            note_contact(scope, actor, each.to.patient.id, outcome="letter", note=note, today=today)
    return letters


def _noted_today(scope: PracticeScope, patient_ids: Sequence[str], note: str, today: date) -> set[str]:
    found: set[str] = set()
    for some in in_chunks(patient_ids):
        query = scope.select(ContactNote).where(col(ContactNote.patient_id).in_(some), ContactNote.note == note)
        found.update(each.patient_id for each in scope.all(query) if each.made_at.astimezone().date() == today)
    return found
