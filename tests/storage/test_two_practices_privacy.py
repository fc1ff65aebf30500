"""Two practices in one database: neither reaches the privacy duties of the other's patients."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from app.core.errors import InputError
from app.storage.practice_scope import NotFound
from app.work import doubles, merge_lists
from app.work.actor import Actor
from tests.making import a_series, loaded
from tests.people import Practice, a_patient, founded, hash_lightly
from tests.storage.test_two_practices import everything_of
from tests.work.privacy_use_cases import REACHING, ROOMS, double, joined, redone


@dataclass(frozen=True)
class Theirs:
    """What Heron Lane has, seen from Otter Yard."""

    practice: Practice
    patient: str
    series: str
    exposure: str
    merge: str

    @property
    def stranger(self) -> Actor:
        return self.practice.stranger


@pytest.fixture(scope="module")
def theirs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Theirs]:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        heron = founded(tmp_path_factory.mktemp("two-privacy") / "data")
        patient = a_patient(heron).id
        series = a_series(heron, patient_id=patient)
        exposure = loaded(heron, series, slot="UR-molar").id
        with heron.store.writing(heron.dentist.practice_id) as scope:
            redone(scope, heron.dentist, exposure, heron.dentist.staff_id)
            merge = joined(scope, heron.dentist, patient, double(scope, heron.dentist))
        yield Theirs(heron, patient, series.id, exposure, merge)
        heron.store.close()


@pytest.mark.parametrize("reaching", REACHING)
def test_what_belongs_to_the_other_practice_is_not_there(theirs: Theirs, reaching: str) -> None:
    before = everything_of(theirs.practice.dentist, theirs.practice.store)

    with (
        pytest.raises((NotFound, InputError)),
        theirs.practice.store.writing(theirs.stranger.practice_id) as scope,
    ):
        REACHING[reaching](scope, theirs)
    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before


def test_every_use_case_that_takes_an_id_is_asked() -> None:
    """A use case added later must be added to the table."""
    ids = {"patient_id", "exposure_id", "series_id", "hold_id", "merge_id", "erasure_id", "kept_id", "merged_id"}
    for room in ROOMS:
        for name, function in inspect.getmembers(room, inspect.isfunction):
            own = function.__module__ == room.__name__ and not name.startswith("_")
            if own and ids & set(inspect.signature(function).parameters):
                assert name in {words.split(",")[0] for words in REACHING} | LISTING


LISTING = {"merges_of_patient", "rows_of_patient"}
"""Answer with nothing instead."""


def test_lists_hold_nothing_of_the_other_practice(theirs: Theirs) -> None:
    with theirs.practice.store.reading(theirs.stranger.practice_id) as scope:
        assert merge_lists.merges_of_patient(scope, theirs.stranger, theirs.patient) == []
        assert doubles.rows_of_patient(scope, theirs.patient) == {}
        assert doubles.likely_doubles(scope, theirs.stranger) == []
