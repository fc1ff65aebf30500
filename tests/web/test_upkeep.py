"""What the server does by itself while it runs."""

from __future__ import annotations

import asyncio
from datetime import date

import pytest
from fastapi import FastAPI

from app.storage.recall import RecallPolicy
from app.web.upkeep import one_round
from app.work.patients import register_patient
from app.work.recall_recompute import outdate_all, stale_count
from tests.people import Practice, a_patient
from tests.web.client import running

TODAY = date.today()


def left(practice: Practice) -> int:
    """Lines that wait in the practice of the cast."""
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return stale_count(scope, TODAY)


@pytest.fixture
def outdated(practice: Practice) -> Practice:
    """One patient whose line waits."""
    a_patient(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        outdate_all(scope, TODAY)
    return practice


def test_the_upkeep_runs_with_the_server_and_ends_with_it(application: FastAPI) -> None:
    with running([application]):
        task: asyncio.Task[None] = application.state.upkeep
        running_meanwhile = not task.done()

    assert running_meanwhile
    assert task.done()
    assert not task.cancelled()
    assert task.exception() is None


def test_a_round_works_out_what_waits(outdated: Practice) -> None:
    before = left(outdated)
    asyncio.run(one_round(outdated.store, asyncio.Event()))

    assert before == 1
    assert left(outdated) == 0


def test_no_step_is_begun_once_the_server_ends(outdated: Practice) -> None:
    ending = asyncio.Event()
    ending.set()
    asyncio.run(one_round(outdated.store, ending))

    assert left(outdated) == 1


def test_a_practice_that_fails_does_not_stop_the_others(
    outdated: Practice, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    ours, theirs = outdated.dentist.practice_id, outdated.stranger.practice_id
    with outdated.store.writing(theirs) as scope:
        register_patient(
            scope, outdated.stranger, chart_number="S1", name="Oda Finch", birth_date="1984-05-06", today=TODAY
        )
        outdate_all(scope, TODAY)
        damaged = RecallPolicy(
            key="damaged", title="damaged", body={}, chosen_on=TODAY, kept_by=outdated.stranger.staff_id
        )
        scope.add(damaged)
    # The damaged one comes first.
    monkeypatch.setattr("app.web.upkeep.practices_kept", lambda _store: [theirs, ours])
    asyncio.run(one_round(outdated.store, asyncio.Event()))

    assert "could not be brought up to date" in caplog.text
    assert left(outdated) == 0
