"""Two practices in one database: neither reaches the recall of the other's patients."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from app.core.errors import InputError
from app.storage.practice_scope import NotFound
from app.work.actor import Actor
from app.work.recall_filter import WHENS, RecallFilter
from app.work.recall_list import recall_page, recall_patient_ids
from app.work.recall_policies import choose_policy
from app.work.recall_recompute import outdate_all, recompute_stale, stale_count
from app.work.recall_tables import policy_in_force
from tests.people import TODAY, Practice, a_patient, founded, hash_lightly
from tests.storage.test_two_practices import everything_of
from tests.work import recall_use_cases
from tests.work.recall_use_cases import REACHING, ROOMS, brought, held, nothing_found, prescribed


@dataclass(frozen=True)
class Theirs:
    """What Heron Lane has, seen from Otter Yard."""

    practice: Practice
    patient: str
    prescription: str
    hold: str
    outside: str

    @property
    def stranger(self) -> Actor:
        return self.practice.stranger


@pytest.fixture(scope="module")
def theirs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Theirs]:
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        heron = founded(tmp_path_factory.mktemp("two-recalls") / "data")
        patient = a_patient(heron).id
        with heron.store.writing(heron.dentist.practice_id) as scope:
            doctor = heron.dentist
            choose_policy(scope, doctor, "ada_fda_2012", today=TODAY)
            made = Theirs(
                heron,
                patient,
                prescribed(scope, doctor, patient),
                held(scope, doctor, patient),
                brought(scope, doctor, patient),
            )
        yield made
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
    ids = {"patient_id", "prescription_id", "hold_id", "outside_id"}
    for room in ROOMS:
        for name, function in inspect.getmembers(room, inspect.isfunction):
            own = function.__module__ == room.__name__ and not name.startswith("_")
            if own and ids & set(inspect.signature(function).parameters):
                assert name in recall_use_cases.REACHING


def test_the_list_holds_nobody_of_the_other_practice(theirs: Theirs) -> None:
    with theirs.practice.store.reading(theirs.stranger.practice_id) as scope:
        pages = [recall_page(scope, RecallFilter(when=when), TODAY) for when in WHENS]
        named = recall_page(scope, RecallFilter(words="Merriweather"), TODAY)
        listed = [recall_patient_ids(scope, RecallFilter(when=when), TODAY, 100) for when in WHENS]

        assert policy_in_force(scope) is None
    assert [page.rows for page in pages] == [[]] * len(WHENS)
    assert (named.rows, sum(named.counts.values())) == ([], 0)
    assert listed == [[]] * len(WHENS)


def test_working_out_anew_touches_nobody_of_the_other_practice(theirs: Theirs) -> None:
    before = everything_of(theirs.practice.dentist, theirs.practice.store)
    with theirs.practice.store.writing(theirs.stranger.practice_id) as scope:
        outdate_all(scope, TODAY)
        done = recompute_stale(scope, TODAY)
        waiting = stale_count(scope, TODAY)
        found_nothing = nothing_found(scope, theirs.patient)

    assert (done, waiting, found_nothing) == (0, 0, True)
    assert everything_of(theirs.practice.dentist, theirs.practice.store) == before
