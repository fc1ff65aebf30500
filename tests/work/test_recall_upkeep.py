"""The work list keeps up with the calendar by itself, in small transactions."""

from __future__ import annotations

from sqlmodel import col, delete

from app.storage.recall import RecallItem
from app.work.recall_recompute import outdate_all, stale_count
from app.work.recall_upkeep import catch_up, keep_up_step, practices_kept
from tests.people import TODAY, Practice, a_patient


def outdated(practice: Practice, count: int) -> str:
    """That many patients whose lines all wait; answers the practice's id."""
    for number in range(count):
        a_patient(practice, f"H{300 + number}")
    practice_id = practice.dentist.practice_id
    with practice.store.writing(practice_id) as scope:
        outdate_all(scope, TODAY)
    return practice_id


def waiting(practice: Practice) -> int:
    """Lines that wait in the practice of the cast."""
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return stale_count(scope, TODAY)


def test_without_time_one_step_is_done_and_the_rest_is_told(practice: Practice) -> None:
    practice_id = outdated(practice, 3)
    before = waiting(practice)
    told = catch_up(practice.store, practice_id, TODAY, seconds=0, step=1)

    assert before == 3
    assert told == waiting(practice) == 2


def test_with_time_step_follows_step_until_nothing_waits(practice: Practice) -> None:
    practice_id = outdated(practice, 3)
    told = catch_up(practice.store, practice_id, TODAY, seconds=600, step=1)

    assert told == waiting(practice) == 0


def test_a_step_of_the_upkeep_says_whether_there_may_be_more(practice: Practice) -> None:
    practice_id = outdated(practice, 3)
    said = [keep_up_step(practice.store, practice_id, TODAY, step=2) for _ in range(2)]

    assert said == [True, False]
    assert waiting(practice) == 0


def test_the_upkeep_gives_a_line_to_patients_without_one(practice: Practice) -> None:
    patient = a_patient(practice, "H300")
    practice_id = practice.dentist.practice_id
    with practice.store.writing(practice_id) as scope:
        scope.session.execute(delete(RecallItem).where(col(RecallItem.patient_id) == patient.id))
    keep_up_step(practice.store, practice_id, TODAY)
    with practice.store.reading(practice_id) as scope:
        lines = scope.all(scope.select(RecallItem).where(RecallItem.patient_id == patient.id))

    assert len(lines) == 1


def test_every_practice_is_kept_up(practice: Practice) -> None:
    found = practices_kept(practice.store)

    assert set(found) == {practice.dentist.practice_id, practice.stranger.practice_id}
