"""What the quality review says of a small practice whose every exposure is known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

import pytest

from app.core.errors import InputError
from app.core.quality.control_charts import ChartPoint
from app.storage.practice_scope import PracticeScope
from app.work import close, retakes, review
from app.work.actor import Actor
from app.work.quality_comparison import compare_operators
from app.work.quality_exposures import exposures_behind, how_many_behind, series_closed_incomplete
from app.work.quality_figures import figures, overview
from app.work.quality_grades import grade_report
from app.work.quality_period import DIMENSIONS, MEASURES, Period, age_group
from app.work.quality_refresh import bring_up_to_date
from app.work.quality_training import lessons
from app.work.quality_trends import trend
from tests.making import a_series
from tests.people import Practice, a_patient, founded, hash_lightly
from tests.quality_rows import taken

BITEWINGS = ["BW-R-premolar", "BW-R-molar", "BW-L-premolar", "BW-L-molar"]
JANUARY = datetime(2026, 1, 31, 23, 30, tzinfo=UTC)
FEBRUARY = datetime(2026, 2, 1, 0, 10, tzinfo=UTC)
YEAR = Period.of_months("2025-04", "2026-03")


@dataclass(frozen=True)
class Reviewed:
    """The small practice, up to date."""

    practice: Practice
    scope: PracticeScope
    faulty: str
    """The right molar bitewing of the first series: overlap, retaken in February by the dentist."""


def slots_of(made: Practice) -> list[str]:
    from app.exchange.shared_data import builtin_templates

    return [slot.id for slot in builtin_templates()["bitewings-4"].required_slots]


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Reviewed]:
    """Three bitewing series of patients born in 1984.

    The first by the assistant: one overlap that took a contact, retaken by the dentist 40 minutes later, which is
    February. The second by the assistant: a fault that lost what nothing else shows, never retaken, closed
    incomplete. The third by the dentist: all good, one retaken all the same.
    """
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        made = founded(tmp_path_factory.mktemp("review") / "data")
    doctor, store = made.dentist, made.store
    slots = slots_of(made)
    first, second, third = (a_series(made, "bitewings-4", a_patient(made, f"H{number}").id) for number in range(3))

    def say(ids: list[str], faults: dict[int, str]) -> None:
        with store.writing(doctor.practice_id) as scope:
            for number, each in enumerate(ids):
                fault = [{"code": faults[number]}] if number in faults else []
                review.review_exposure(scope, doctor, each, shortfalls=fault)

    def again(series_id: str, slot: str, reason: str) -> None:
        with store.writing(doctor.practice_id) as scope:
            retakes.order_retake(scope, doctor, series_id, slot=slot, authorised_by=doctor.staff_id, reason=reason)

    ids = taken(made, first, slots, at=JANUARY.replace(minute=0))
    say(ids, {0: "overlap"})
    again(first.id, slots[0], "overlap")
    say(taken(made, first, slots[:1], operator=doctor.staff_id, at=FEBRUARY), {})
    say(taken(made, second, slots, at=FEBRUARY), {1: "blurred"})
    goods = taken(made, third, slots, operator=doctor.staff_id, at=FEBRUARY)
    say(goods, {})
    again(third.id, slots[2], "artifact")
    say(taken(made, third, slots[2:3], operator=doctor.staff_id, at=FEBRUARY), {})
    with store.writing(doctor.practice_id) as scope:
        for series in (first, second, third):
            close.close_series(
                scope, doctor, series.id, dentist_id=doctor.staff_id, reason="enough for today", at=FEBRUARY
            )
    bring_up_to_date(store, doctor.practice_id)
    with store.reading(doctor.practice_id) as scope:
        yield Reviewed(made, scope, ids[0])
    store.close()


def share(rate) -> tuple[int, int]:
    return rate.numerator, rate.denominator


def by_value(small: Reviewed, by: str, actor: Actor | None = None):
    return {row.value: row for row in figures(small.scope, actor or small.practice.dentist, YEAR, by)}


def test_the_overview_counts_every_exposure_once(small: Reviewed) -> None:
    """14 exposures; two images retaken, one of them for nothing; two that lost something."""
    found = overview(small.scope, small.practice.dentist, YEAR)

    assert found.whole.exposures == found.whole.reviewed == 14
    assert share(found.whole.retake) == (2, 14)
    assert share(found.whole.non_diagnostic) == (2, 14)
    assert share(found.whole.avoidable) == (1, 2)
    assert found.whole.repeats == 2
    assert found.whole.retake.small
    assert (found.first_day, found.last_day) == (date(2026, 1, 31), date(2026, 2, 1))


def test_a_series_closed_incomplete_is_a_missed_retake(small: Reviewed) -> None:
    found = overview(small.scope, small.practice.dentist, YEAR)
    lines = series_closed_incomplete(small.scope, small.practice.dentist, YEAR)

    assert share(found.missed) == (1, 3)
    assert found.retakes_missed == 1
    assert [(line.retakes_missed, line.closed_on) for line in lines] == [(1, date(2026, 2, 1))]


def test_what_the_smallest_plans_saved_is_counted_after_the_first_pass(small: Reviewed) -> None:
    """Two faults in all, one plan of one view each: nothing saved, and nothing claimed."""
    found = overview(small.scope, small.practice.dentist, YEAR)

    assert (found.every_fault_count, found.plan_count, found.saved) == (2, 2, 0)


def test_a_retake_counts_in_the_month_and_under_the_operator_of_the_image_it_replaces(small: Reviewed) -> None:
    months = by_value(small, "month")
    people = by_value(small, "operator")

    assert share(months["2026-01"].retake) == (1, 4)
    assert share(months["2026-02"].retake) == (1, 10)
    assert share(people[small.practice.assistant.staff_id].retake) == (1, 8)
    assert share(people[small.practice.dentist.staff_id].retake) == (1, 6)


def test_a_month_without_exposures_is_told_and_has_no_rate(small: Reviewed) -> None:
    months = by_value(small, "month")

    assert len(months) == 12
    assert months["2025-07"].retake.interval is None


def test_by_reason_every_line_has_the_same_denominator(small: Reviewed) -> None:
    reasons = by_value(small, "reason")

    assert {code: share(row.retake) for code, row in reasons.items()} == {
        "overlap": (1, 14),
        "blurred": (0, 14),
        "artifact": (1, 14),
    }
    assert share(reasons["blurred"].non_diagnostic) == (1, 14)
    assert reasons["overlap"].title == "Overlapped contacts"


@pytest.mark.parametrize("by", [name for name in DIMENSIONS if name != "reason"])
def test_the_lines_of_a_dimension_add_up_to_the_whole(small: Reviewed, by: str) -> None:
    rows = by_value(small, by).values()

    assert sum(row.exposures for row in rows) == 14
    assert sum(row.retake.numerator for row in rows) == 2
    assert sum(row.non_diagnostic.numerator for row in rows) == 2


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("by", ["", *DIMENSIONS])
def test_each_figure_opens_exactly_the_exposures_that_it_counts(small: Reviewed, by: str, measure: str) -> None:
    doctor = small.practice.dentist
    whole = overview(small.scope, doctor, YEAR).whole
    rows = figures(small.scope, doctor, YEAR, by) if by else (whole,)
    for row in rows:
        counts = {
            "exposures": row.exposures,
            "reviewed": row.reviewed,
            "faultless": row.faultless,
            "retaken": row.retake.numerator,
            "non_diagnostic": row.non_diagnostic.numerator,
            "avoidable": row.avoidable.numerator,
            "repeats": row.repeats,
        }
        chosen = {"measure": measure, "by": by, "value": row.value}

        assert how_many_behind(small.scope, doctor, YEAR, **chosen) == counts[measure]
        assert len(exposures_behind(small.scope, doctor, YEAR, **chosen)) == counts[measure]


def test_the_list_says_what_happened_to_the_image(small: Reviewed) -> None:
    (line,) = exposures_behind(
        small.scope, small.practice.dentist, YEAR, measure="retaken", by="reason", value="overlap"
    )

    assert line.exposure_id == small.faulty
    assert line.codes == ("overlap",)
    assert (line.retaken, line.avoidable, line.non_diagnostic) == (True, False, True)
    assert line.operator == small.practice.assistant.name


def test_an_assistant_sees_their_own_figures_only(small: Reviewed) -> None:
    """Whatever they ask for: totals, lines, lists, comparison, lessons."""
    one, other = small.practice.assistant, small.practice.dentist.staff_id
    whole = overview(small.scope, one, YEAR, operator_id=other)
    people = figures(small.scope, one, YEAR, "operator", operator_id=other)
    lines = exposures_behind(small.scope, one, YEAR, measure="exposures", operator_id=other)
    compared = compare_operators(small.scope, one, YEAR)

    assert whole.whole.exposures == 8
    assert [row.value for row in people] == [one.staff_id]
    assert {line.operator for line in lines} == {one.name}
    assert [line.operator_id for line in compared.lines] == [one.staff_id]
    assert {each.operator_id for each in lessons(small.scope, one, YEAR)} == {one.staff_id}


def test_a_dentist_sees_everybody_and_may_ask_for_one(small: Reviewed) -> None:
    doctor, one = small.practice.dentist, small.practice.assistant.staff_id

    assert len(compare_operators(small.scope, doctor, YEAR).lines) == 2
    assert overview(small.scope, doctor, YEAR, operator_id=one).whole.exposures == 8


def test_expected_retakes_add_up_to_those_observed(small: Reviewed) -> None:
    compared = compare_operators(small.scope, small.practice.dentist, YEAR)

    assert sum(line.result.expected for line in compared.lines) == pytest.approx(2)
    assert sum(line.result.observed for line in compared.lines) == 2
    assert all(line.small and line.words.startswith("Too few to tell") for line in compared.lines)


def test_the_standard_of_an_assistant_is_the_whole_practices(small: Reviewed) -> None:
    compared = compare_operators(small.scope, small.practice.assistant, YEAR)

    assert share(compared.standard) == (2, 14)


@pytest.mark.parametrize("grain", ["week", "month"])
def test_the_trend_holds_every_exposure_in_its_own_time(small: Reviewed, grain: str) -> None:
    found = trend(small.scope, small.practice.dentist, YEAR, grain=grain)

    assert sum(point.n for point in found.points) == 14
    assert sum(point.events for point in found.points) == 2
    assert found.centre == pytest.approx(2 / 14)
    assert all(isinstance(point.chart, ChartPoint) for point in found.points)


def test_the_most_frequent_fault_comes_with_its_correction(small: Reviewed) -> None:
    found = lessons(small.scope, small.practice.dentist, YEAR)

    assert {(each.code, each.rate.numerator, each.operator) for each in found} == {
        ("overlap", 1, small.practice.assistant.name),
        ("blurred", 1, small.practice.assistant.name),
    }
    overlap = next(each for each in found if each.code == "overlap")
    assert "through the contacts" in overlap.correction


def test_without_a_scheme_there_are_grades_to_choose_and_no_verdict(small: Reviewed) -> None:
    report = grade_report(small.scope, small.practice.dentist, YEAR)

    assert report.scheme is None
    assert report.lines == ()


@pytest.mark.parametrize(
    ("wrong", "path"),
    [({"by": "shoe"}, "by"), ({"measure": "shoe"}, "measure"), ({"by": "month", "value": "March"}, "value")],
)
def test_what_cannot_be_chosen_is_named(small: Reviewed, wrong: dict[str, str], path: str) -> None:
    with pytest.raises(InputError) as said:
        how_many_behind(small.scope, small.practice.dentist, YEAR, **({"measure": "exposures"} | wrong))

    assert said.value.path == path


@pytest.mark.parametrize(
    ("first", "last", "path"), [("2026-13", "2026-03", "first"), ("2026-03", "2026-02", "last")]
)
def test_a_period_that_cannot_be_is_refused(first: str, last: str, path: str) -> None:
    with pytest.raises(InputError) as said:
        Period.of_months(first, last)

    assert said.value.path == path


def test_a_period_is_whole_months() -> None:
    found = Period.twelve_months_to(date(2026, 2, 27))

    assert (found.first, found.last) == (date(2025, 3, 1), date(2026, 2, 28))
    assert len(found.months) == 12
    assert found.text == "Mar 2025 to Feb 2026"


def test_a_leap_days_child_has_a_birthday_every_year() -> None:
    assert age_group(date(2008, 2, 29), date(2026, 2, 28)) == "12-17"
    assert age_group(date(2008, 2, 29), date(2026, 3, 1)) == "18-64"
