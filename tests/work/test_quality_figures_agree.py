"""The kept figures of the quality review never disagree with the rows, whatever happens to those."""

from __future__ import annotations

from random import Random

import pytest

from app.storage.quality_figures import QualityCell, QualityMark
from app.storage.series import ExposureRow
from app.work import review
from app.work.quality_refresh import bring_up_to_date, disagreements, rebuild
from tests.making import a_series
from tests.people import Practice, a_patient
from tests.quality_rows import agreeing, random_change, taken


@pytest.mark.parametrize("seed", range(6))
def test_kept_figures_equal_the_rows_after_random_changes(practice: Practice, seed: int) -> None:
    random = Random(seed)
    patient = a_patient(practice).id
    all_series = [a_series(practice, name, patient) for name in ("bitewings-4", "adult-18")]
    for _ in range(14):
        random_change(practice, random.choice(all_series), random)

        assert agreeing(practice.store, practice.dentist.practice_id) == []


def test_a_row_changed_past_every_use_case_is_noticed(practice: Practice) -> None:
    """The mark comes from the database itself."""
    series = a_series(practice)
    (exposure_id,) = taken(practice, series, ["UR-molar"])
    bring_up_to_date(practice.store, practice.dentist.practice_id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.get(ExposureRow, exposure_id, "image")
        row.operator_id = practice.dentist.staff_id
        scope.session.add(row)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert disagreements(scope) != []

    assert agreeing(practice.store, practice.dentist.practice_id) == []


def test_how_an_image_is_looked_at_makes_nothing_stale(practice: Practice) -> None:
    series = a_series(practice)
    (exposure_id,) = taken(practice, series, ["UR-molar"])
    bring_up_to_date(practice.store, practice.dentist.practice_id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        review.save_view(scope, practice.dentist, exposure_id, inverted=True)

    assert bring_up_to_date(practice.store, practice.dentist.practice_id) == 0


def test_figures_thrown_away_come_back_the_same(practice: Practice) -> None:
    random = Random(3)
    series = a_series(practice)
    for _ in range(20):
        random_change(practice, series, random)
    bring_up_to_date(practice.store, practice.dentist.practice_id)
    before = cells(practice)

    assert rebuild(practice.store, practice.dentist.practice_id) == 1
    assert cells(practice) == before


def test_a_sum_that_is_wrong_would_be_noticed(practice: Practice) -> None:
    """The comparison can fail."""
    series = a_series(practice)
    taken(practice, series, ["UR-molar"])
    bring_up_to_date(practice.store, practice.dentist.practice_id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        cell = scope.all(scope.select(QualityCell))[0]
        cell.exposures += 1
        scope.session.add(cell)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert len(disagreements(scope)) == 1


def test_one_practices_marks_are_not_anothers(practice: Practice) -> None:
    taken(practice, a_series(practice), ["UR-molar"])

    assert bring_up_to_date(practice.store, practice.stranger.practice_id) == 0
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert len(scope.all(scope.select(QualityMark))) == 1


def cells(practice: Practice) -> list[tuple[object, ...]]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return sorted(
            tuple(value for name, value in cell.model_dump().items() if name != "id")
            for cell in scope.all(scope.select(QualityCell))
        )
