"""The marks that say which figures are stale come from triggers, written apart for each database."""

from __future__ import annotations

from random import Random

from app.work.quality_comparison import compare_operators
from app.work.quality_exposures import exposures_behind, how_many_behind
from app.work.quality_figures import figures, overview
from app.work.quality_period import DIMENSIONS, Period
from app.work.quality_refresh import bring_up_to_date
from app.work.quality_training import lessons
from app.work.quality_trends import trend
from tests.making import a_series
from tests.people import Practice
from tests.quality_rows import agreeing, random_change


def test_they_agree_on_both_databases(either: Practice) -> None:
    """SQLite and PostgreSQL, whose triggers are written apart."""
    random = Random(11)
    series = a_series(either, "bitewings-4")
    for _ in range(25):
        random_change(either, series, random)

        assert agreeing(either.store, either.dentist.practice_id) == []


def test_every_question_of_the_review_is_answered_alike_on_both_databases(either: Practice) -> None:
    """Figures, lists and counts agree with each other wherever they are kept."""
    random, doctor = Random(5), either.dentist
    series = a_series(either, "bitewings-4")
    for _ in range(25):
        random_change(either, series, random)
    bring_up_to_date(either.store, doctor.practice_id)
    period = Period.of_months("2025-04", "2026-03")
    with either.store.reading(doctor.practice_id) as scope:
        whole = overview(scope, doctor, period).whole
        for by in DIMENSIONS:
            for row in figures(scope, doctor, period, by):
                chosen = {"measure": "retaken", "by": by, "value": row.value}
                assert how_many_behind(scope, doctor, period, **chosen) == row.retake.numerator
                assert len(exposures_behind(scope, doctor, period, **chosen)) == row.retake.numerator
        weeks = trend(scope, doctor, period, grain="week")
        compared = compare_operators(scope, doctor, period)
        taught = lessons(scope, doctor, period)

    assert whole.exposures > 0
    assert sum(point.n for point in weeks.points) == whole.exposures
    assert compared.standard.numerator == whole.retake.numerator
    assert len(taught) <= whole.non_diagnostic.numerator
