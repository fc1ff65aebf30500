"""A grading sample of one practice, asked for by another: it is not there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from app.storage.practice_scope import NotFound, PracticeScope
from app.work import grading, grading_agreement
from app.work.actor import Actor
from app.work.grading_draw import draw_sample
from tests.people import Practice
from tests.web.chairside_people import faulty_series

TODAY = datetime.now(UTC).date()

REACHING: dict[str, Callable[[PracticeScope, Actor, str], object]] = {
    "sample_progress": lambda scope, actor, sample: grading.sample_progress(scope, actor, sample),
    "next_to_read": lambda scope, actor, sample: grading.next_to_read(scope, actor, sample),
    "image_to_read": lambda scope, actor, sample: grading.image_to_read(scope, actor, sample, 1),
    "keep_second_reading": lambda scope, actor, sample: grading.keep_second_reading(scope, actor, sample, 1, "A"),
    "agreement_of": lambda scope, actor, sample: grading_agreement.agreement_of(scope, actor, sample),
    "readings_that_differ": lambda scope, actor, s: grading_agreement.readings_that_differ(scope, actor, s),
}


def test_the_sample_of_another_practice_is_not_there(practice: Practice) -> None:
    faulty_series(practice)
    day = TODAY.isoformat()
    with practice.store.writing(practice.dentist.practice_id) as scope:
        sample = draw_sample(scope, practice.dentist, from_day=day, to_day=day, size="3").id

    with practice.store.writing(practice.stranger.practice_id) as scope:
        for reach in REACHING.values():
            with pytest.raises(NotFound):
                reach(scope, practice.stranger, sample)
        assert grading.samples(scope, practice.stranger) == []
        assert grading_agreement.agreements_within(scope, practice.stranger, TODAY, TODAY) == []
