"""A grading sample: its draw, its blind second reading, and the agreement of the two."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from app.core.errors import InputError
from app.core.quality.sampling import simple_sample
from app.storage.grading import GradingItem, GradingSample
from app.storage.series import ExposureRow
from app.work.actor import Actor, NotAllowed
from app.work.assign import set_aside
from app.work.grading import image_to_read, keep_second_reading, next_to_read, sample_progress, samples
from app.work.grading_agreement import agreement_of, agreements_within, readings_that_differ
from app.work.grading_draw import draw_sample
from app.work.review import review_exposure
from tests.people import Practice
from tests.web.chairside_people import faulty_series, full_series, review_all

TODAY = datetime.now(UTC).date().isoformat()
"""Images of these tests are taken when they are loaded."""


def drawn(practice: Practice, size: int = 18, **changed: str) -> GradingSample:
    """A sample of the images taken today."""
    words = {"from_day": TODAY, "to_day": TODAY, "size": str(size), "seed": "heron"} | changed
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return draw_sample(scope, practice.dentist, **words)


def items(practice: Practice, sample: GradingSample) -> list[GradingItem]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        found = scope.all(scope.select(GradingItem).where(GradingItem.sample_id == sample.id))
        return sorted(found, key=lambda each: each.position)


def read(practice: Practice, sample: GradingSample, position: int, grade: str, actor: Actor | None = None) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        keep_second_reading(scope, actor or practice.dentist, sample.id, position, grade)


def test_the_draw_is_that_of_its_seed_and_is_recorded(practice: Practice) -> None:
    _, ids = faulty_series(practice)

    sample = drawn(practice, 5)

    assert [each.exposure_id for each in items(practice, sample)] == simple_sample(list(ids.values()), 5, "heron")
    assert (sample.seed, sample.size, sample.pool_count, sample.method) == ("heron", 5, 18, "simple")


def test_without_a_seed_one_is_made_and_kept(practice: Practice) -> None:
    faulty_series(practice)

    one, other = drawn(practice, 5, seed=""), drawn(practice, 5, seed="")

    assert one.seed
    assert one.seed != other.seed
    again = drawn(practice, 5, seed=one.seed)
    assert [each.exposure_id for each in items(practice, again)] == [
        each.exposure_id for each in items(practice, one)
    ]


def test_the_first_grade_is_that_of_the_review_and_stays_when_the_review_changes(practice: Practice) -> None:
    """The three images of FAULTS lost what they promise; the others lost nothing."""
    _, ids = faulty_series(practice)
    sample = drawn(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        review_exposure(scope, practice.assistant, ids["LL-canine"])

    worst = {each.exposure_id for each in items(practice, sample) if each.first_grade == "N"}

    assert worst == {ids["UR-molar"], ids["LL-canine"], ids["UL-premolar"]}
    assert {each.first_reader for each in items(practice, sample)} == {practice.assistant.staff_id}


def test_a_scheme_of_three_grades_keeps_three(practice: Practice) -> None:
    faulty_series(practice)

    sample = drawn(practice, scheme="three-grades-1994")

    assert sorted({each.first_grade for each in items(practice, sample)}) == ["1", "3"]


def test_only_reviewed_images_that_count_can_be_drawn(practice: Practice) -> None:
    _, ids = full_series(practice)
    review_all(practice, {slot: each for slot, each in ids.items() if slot != "UR-molar"})
    with practice.store.writing(practice.dentist.practice_id) as scope:
        set_aside(scope, practice.assistant, ids["LL-canine"], "test shot")

    sample = drawn(practice, 16)

    assert {each.exposure_id for each in items(practice, sample)} == set(ids.values()) - {
        ids["UR-molar"],
        ids["LL-canine"],
    }


@pytest.mark.parametrize(
    ("changed", "path", "words"),
    [
        ({"from_day": "soon"}, "from_day", '"soon" is not a date. Write year, month and day'),
        ({"to_day": "2020-01-01"}, "to_day", "2020-01-01 lies before"),
        ({"size": "many"}, "size", '"many" cannot be drawn'),
        ({"size": "0"}, "size", '"0" cannot be drawn'),
        ({"size": "1001"}, "size", "from 1 to 1000"),
        ({"size": "19"}, "size", "19 images are wanted, but 18 reviewed images were taken"),
        ({"from_day": "2020-01-01", "to_day": "2020-02-01"}, "size", "but 0 reviewed images .* another period"),
        ({"method": "simpel"}, "method", 'Did you mean "simple"'),
        ({"scheme": "two-grades"}, "scheme", "is no grading scheme"),
        ({"seed": "x" * 65}, "seed", "65 characters"),
    ],
)
def test_what_cannot_be_drawn_is_told_at_its_field_and_nothing_is_kept(
    practice: Practice, changed: dict[str, str], path: str, words: str
) -> None:
    faulty_series(practice)

    with pytest.raises(InputError, match=words) as caught:
        drawn(practice, 5, **changed) if "size" not in changed else drawn(practice, **changed)

    assert caught.value.path == path
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert samples(scope, practice.dentist) == []


def test_an_assistant_draws_nothing(practice: Practice) -> None:
    faulty_series(practice)

    with (
        pytest.raises(NotAllowed, match="Only a dentist may draw"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        draw_sample(scope, practice.assistant, from_day=TODAY, to_day=TODAY, size="5")


def test_who_reviewed_an_image_first_cannot_read_it_again(practice: Practice) -> None:
    faulty_series(practice)
    sample = drawn(practice)

    with pytest.raises(InputError, match="you reviewed image 1 first"):
        read(practice, sample, 1, "A", practice.assistant)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert next_to_read(scope, practice.assistant, sample.id) is None
        assert sample_progress(scope, practice.assistant, sample.id).own == 18
        with pytest.raises(InputError, match="Leave it to a colleague"):
            image_to_read(scope, practice.assistant, sample.id, 1)


def test_an_assistant_reads_what_the_dentist_reviewed(practice: Practice) -> None:
    _, ids = full_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for each in ids.values():
            review_exposure(scope, practice.dentist, each)
    sample = drawn(practice)

    read(practice, sample, 3, "N", practice.assistant)

    assert items(practice, sample)[2].second_reader == practice.assistant.staff_id
    assert sample_of(practice, sample).read == 1


def sample_of(practice: Practice, sample: GradingSample):
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return sample_progress(scope, practice.dentist, sample.id)


def test_reading_goes_on_where_it_stopped_and_begins_again_with_what_was_left_out(practice: Practice) -> None:
    faulty_series(practice)
    sample = drawn(practice, 4)
    read(practice, sample, 1, "A")
    read(practice, sample, 3, "A")

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert next_to_read(scope, practice.dentist, sample.id) == 2
        assert next_to_read(scope, practice.dentist, sample.id, after=2) == 4
        assert next_to_read(scope, practice.dentist, sample.id, after=4) == 2


def test_a_reading_can_be_changed_until_the_sample_is_finished(practice: Practice) -> None:
    faulty_series(practice)
    sample = drawn(practice, 2)
    read(practice, sample, 1, "A")
    read(practice, sample, 1, "N")
    read(practice, sample, 2, "A")

    with pytest.raises(InputError, match="every image of this sample is read"):
        read(practice, sample, 1, "A")

    assert [each.second_grade for each in items(practice, sample)] == ["N", "A"]


def test_a_grade_of_another_scheme_is_refused(practice: Practice) -> None:
    faulty_series(practice)
    sample = drawn(practice, 2)

    with pytest.raises(InputError, match=r'"2" is no grade of this scheme. Choose A or N'):
        read(practice, sample, 1, "2")


def test_the_agreement_is_that_of_both_readings(practice: Practice) -> None:
    """Kappa against statsmodels; the second reader differs on two images."""
    faulty_series(practice)
    sample = drawn(practice)
    differ = [1, 7]
    for each in items(practice, sample):
        same = each.position not in differ
        read(practice, sample, each.position, each.first_grade if same else {"A": "N", "N": "A"}[each.first_grade])

    with practice.store.reading(practice.dentist.practice_id) as scope:
        found = agreement_of(scope, practice.dentist, sample.id)
        apart = readings_that_differ(scope, practice.dentist, sample.id)

    theirs = cohens_kappa(found.table)
    assert found.finished
    assert (found.equal.numerator, found.equal.denominator) == (16, 18)
    assert found.kappa is not None
    assert found.kappa.value == pytest.approx(theirs.kappa)
    assert [each.position for each in apart] == differ
    assert sum(map(sum, found.table)) == 18


def test_an_assistant_hears_the_result_only_at_the_end(practice: Practice) -> None:
    faulty_series(practice)
    sample = drawn(practice, 2)
    read(practice, sample, 1, "A")

    with practice.store.reading(practice.dentist.practice_id) as scope:
        with pytest.raises(NotAllowed, match="when every image is read"):
            agreement_of(scope, practice.assistant, sample.id)
        assert agreement_of(scope, practice.dentist, sample.id).read == 1
        assert readings_that_differ(scope, practice.dentist, sample.id) == []
    read(practice, sample, 2, "A")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert agreement_of(scope, practice.assistant, sample.id).finished


def test_a_report_finds_the_samples_whose_days_lie_in_its_period(practice: Practice) -> None:
    faulty_series(practice)
    sample = drawn(practice, 2)
    unread = drawn(practice, 2)
    read(practice, sample, 1, "A")
    day = sample.from_day

    with practice.store.reading(practice.dentist.practice_id) as scope:
        found = agreements_within(scope, practice.dentist, day, day)
        before = agreements_within(scope, practice.dentist, day.replace(year=2001), day.replace(year=2002))

    assert [each.sample.id for each in found] == [sample.id]
    assert unread.id not in [each.sample.id for each in found]
    assert before == []


def test_a_stratified_draw_names_every_operator(practice: Practice) -> None:
    _, ids = faulty_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for each in list(ids.values())[:6]:
            row = scope.get(ExposureRow, each, "image")
            row.operator_id = practice.dentist.staff_id
            scope.session.add(row)

    sample = drawn(practice, 6, method="by_operator")

    drawn_ids = {each.exposure_id for each in items(practice, sample)}
    assert len(drawn_ids & set(list(ids.values())[:6])) == 2
