"""What the server does by itself while it runs."""

from __future__ import annotations

import asyncio
from datetime import date

import pytest
from anyio.from_thread import start_blocking_portal
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


def a_round(practice: Practice, *, ending: bool = False) -> None:
    """One round on an event loop of its own thread: a test of another file may have left one running in this."""

    async def round_() -> None:
        end = asyncio.Event()
        if ending:
            end.set()
        await one_round(practice.store, end)

    with start_blocking_portal() as portal:
        portal.call(round_)


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
    a_round(outdated)

    assert before == 1
    assert left(outdated) == 0


def test_no_step_is_begun_once_the_server_ends(outdated: Practice) -> None:
    a_round(outdated, ending=True)

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
    a_round(outdated)

    assert "could not be brought up to date" in caplog.text
    assert left(outdated) == 0
