"""Imports, texts and lists to take away: nothing of another practice is reached by them."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from app.core.errors import InputError
from app.storage.practice_scope import NotFound
from app.work import exports, imports
from app.work.actor import Actor
from app.work.letters import letter_texts
from app.work.recall_filter import RecallFilter
from tests.people import TODAY, Practice, a_patient, founded, hash_lightly
from tests.storage.test_two_practices import everything_of
from tests.work import import_use_cases


@dataclass(frozen=True)
class Theirs:
    """What Heron Lane has, seen from Otter Yard."""

    practice: Practice
    patient: str
    import_id: str
    text: str

    @property
    def stranger(self) -> Actor:
        return self.practice.stranger


@pytest.fixture(scope="module")
def theirs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Theirs]:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        heron = founded(tmp_path_factory.mktemp("two") / "data")
        patient = a_patient(heron).id
        with heron.store.writing(heron.dentist.practice_id) as scope:
            import_id = import_use_cases.waiting(scope, heron.dentist)
            text = import_use_cases.a_text(scope, heron.dentist)
        yield Theirs(heron, patient, import_id, text)
        heron.store.close()


REACHING = import_use_cases.REACHING(lambda t: t.import_id, lambda t: t.text)


@pytest.mark.parametrize("reaching", REACHING)
def test_what_belongs_to_the_other_practice_is_not_there(theirs: Theirs, reaching: str) -> None:
    before = everything_of(theirs.practice.dentist, theirs.practice.store)

    with (
        pytest.raises((NotFound, InputError)),
        theirs.practice.store.writing(theirs.stranger.practice_id) as scope,
    ):
        REACHING[reaching](scope, theirs)

    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before


def test_every_use_case_of_an_import_or_text_is_asked() -> None:
    asked = {words.split()[0] for words in REACHING}
    takes = {
        name
        for room in import_use_cases.ROOMS
        for name, function in inspect.getmembers(room, inspect.isfunction)
        if function.__module__ == room.__name__
        and not name.startswith("_")
        and {"import_id", "text_id"} & set(inspect.signature(function).parameters)
    }

    assert takes <= asked


def test_lists_hold_nothing_of_the_other_practice(theirs: Theirs) -> None:
    with theirs.practice.store.reading(theirs.stranger.practice_id) as scope:
        assert imports.imports_of(scope) == []
        assert letter_texts(scope) == []
        assert b"Merriweather" not in exports.patients_csv(scope, theirs.stranger)
        assert b"Merriweather" not in exports.recall_csv(
            scope, theirs.stranger, RecallFilter(words="Merriweather"), TODAY
        )


def test_an_import_never_changes_the_other_practice_s_patient_of_that_chart_number(theirs: Theirs) -> None:
    """Chart numbers are unique in a practice only."""
    before = everything_of(theirs.practice.dentist, theirs.practice.store)
    data = b"Chart no,Name,Born\nH100,Somebody Else,1970-01-01\n"
    with theirs.practice.store.writing(theirs.stranger.practice_id) as scope:
        row = imports.stage_file(scope, theirs.stranger, data=data, file_name="a.csv")
        columns = dict(import_use_cases.COLUMNS)
        imports.choose_columns(scope, theirs.stranger, row.id, columns=columns, today=TODAY)
        import_use_cases.confirm(scope, theirs.stranger, row.id)

    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before
