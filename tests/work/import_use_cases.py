"""Imports, exports and letters as each role tries them, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.storage.practice_scope import PracticeScope
from app.work import exports, imports, imports_confirm, imports_undo, letters
from app.work.actor import DESK, TEAM, Actor
from app.work.recall_filter import RecallFilter
from tests.people import TODAY

ROOMS = (exports, imports, imports_confirm, imports_undo, letters)
FILE = b"Chart no,Name,Born\nZ1,Ode Farrant,1984-03-27\n"
COLUMNS = {"chart_number": "0", "name": "1", "birth_date": "2"}
TEXT = {"kind": "letter", "title": "Recall", "subject": "Soon", "body": "Dear {name}"}


def waiting(scope: PracticeScope, doctor: Actor) -> str:
    """An import that waits with its columns chosen."""
    row = imports.stage_file(scope, doctor, data=FILE, file_name="a.csv")
    imports.choose_columns(scope, doctor, row.id, columns=dict(COLUMNS), today=TODAY)
    return row.id


def confirm(scope: PracticeScope, actor: Actor, import_id: str) -> str:
    """Import it as it is."""
    fingerprint = "seen"
    if actor.role in DESK:
        fingerprint = imports.plan_of(scope, actor, import_id, today=TODAY)[1].fingerprint
    return imports_confirm.confirm_import(scope, actor, import_id, fingerprint=fingerprint, today=TODAY).id


def a_text(scope: PracticeScope, doctor: Actor) -> str:
    """A text of the practice."""
    return letters.save_letter_text(scope, doctor, **TEXT).id


def USE_CASES(doctor_of: Callable[[Any], Actor]) -> dict[str, tuple[frozenset[Any], Callable[..., object]]]:
    """What each role may, and the doing."""
    d = doctor_of
    return {
        "stage_file": (DESK, lambda s, a, on: imports.stage_file(s, a, data=FILE, file_name="a.csv")),
        "staged_import": (DESK, lambda s, a, on: imports.staged_import(s, a, waiting(s, d(on)), today=TODAY)),
        "choose_reading": (
            DESK,
            lambda s, a, on: imports.choose_reading(
                s, a, waiting(s, d(on)), encoding="utf-8", delimiter=",", has_header=True
            ),
        ),
        "choose_columns": (
            DESK,
            lambda s, a, on: imports.choose_columns(s, a, waiting(s, d(on)), columns=dict(COLUMNS), today=TODAY),
        ),
        "choose_orders": (
            DESK,
            lambda s, a, on: imports.choose_orders(s, a, waiting(s, d(on)), orders={}, today=TODAY),
        ),
        "plan_of": (DESK, lambda s, a, on: imports.plan_of(s, a, waiting(s, d(on)), today=TODAY)),
        "confirm_import": (DESK, lambda s, a, on: confirm(s, a, waiting(s, d(on)))),
        "discard_import": (DESK, lambda s, a, on: imports.discard_import(s, a, waiting(s, d(on)))),
        "undo_import": (
            DESK,
            lambda s, a, on: imports_undo.undo_import(s, a, confirm(s, d(on), waiting(s, d(on))), today=TODAY),
        ),
        "patients_csv": (DESK, lambda s, a, on: exports.patients_csv(s, a)),
        "recall_csv": (DESK, lambda s, a, on: exports.recall_csv(s, a, RecallFilter(), TODAY)),
        "merge_csv": (TEAM, lambda s, a, on: exports.merge_csv(a, [])),
        "save_letter_text": (DESK, lambda s, a, on: letters.save_letter_text(s, a, **TEXT)),
        "add_example_texts": (DESK, lambda s, a, on: letters.add_example_texts(s, a)),
        "retire_letter_text": (
            DESK,
            lambda s, a, on: letters.retire_letter_text(s, a, a_text(s, d(on)), retired=True),
        ),
        "prepare_letters": (
            TEAM,
            lambda s, a, on: letters.prepare_letters(
                s, a, text_id=a_text(s, d(on)), patient_ids=[on.patient], today=TODAY
            ),
        ),
    }


def REACHING(
    import_of: Callable[[Any], str], text_of: Callable[[Any], str]
) -> dict[str, Callable[[PracticeScope, Any], object]]:
    """A stranger asks for the import, the text and the patient of another practice."""
    return {
        "staged_import": lambda s, t: imports.staged_import(s, t.stranger, import_of(t), today=TODAY),
        "choose_reading": lambda s, t: imports.choose_reading(
            s, t.stranger, import_of(t), encoding="utf-8", delimiter=",", has_header=True
        ),
        "choose_columns": lambda s, t: imports.choose_columns(
            s, t.stranger, import_of(t), columns=dict(COLUMNS), today=TODAY
        ),
        "choose_orders": lambda s, t: imports.choose_orders(s, t.stranger, import_of(t), orders={}, today=TODAY),
        "plan_of": lambda s, t: imports.plan_of(s, t.stranger, import_of(t), today=TODAY),
        "confirm_import": lambda s, t: imports_confirm.confirm_import(
            s, t.stranger, import_of(t), fingerprint="", today=TODAY
        ),
        "discard_import": lambda s, t: imports.discard_import(s, t.stranger, import_of(t)),
        "undo_import": lambda s, t: imports_undo.undo_import(s, t.stranger, import_of(t), today=TODAY),
        "save_letter_text": lambda s, t: letters.save_letter_text(s, t.stranger, text_of(t), **TEXT),
        "retire_letter_text": lambda s, t: letters.retire_letter_text(s, t.stranger, text_of(t), retired=True),
        "prepare_letters to their patient": lambda s, t: letters.prepare_letters(
            s, t.stranger, text_id=a_text(s, t.stranger), patient_ids=[t.patient], today=TODAY
        ),
        "prepare_letters from their text": lambda s, t: letters.prepare_letters(
            s, t.stranger, text_id=text_of(t), patient_ids=[t.patient], today=TODAY
        ),
        "written_letters": lambda s, t: letters.written_letters(s, text_of(t), [t.patient], today=TODAY),
    }
