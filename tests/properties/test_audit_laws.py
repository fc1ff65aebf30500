"""Laws of the audit that hold for every series."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.coverage import audit
from app.core.exposures import Exposure, Shortfall, ShortfallCode
from app.core.series import Series
from tests.strategies import series


def good_exposure(slot_id: str, name: str = "good") -> Exposure:
    return Exposure(id=name, slot=slot_id, reviewed=True)


@settings(max_examples=300, deadline=None)
@given(series(), st.data())
def test_a_further_good_image_never_opens_a_gap(before: Series, data: st.DataObject) -> None:
    """Coverage only grows when an exposure without shortfalls is added."""
    slot = data.draw(st.sampled_from(before.template.slots))

    after = before.with_exposure(good_exposure(slot.id))

    assert audit(after).gap_targets() <= audit(before).gap_targets()


@settings(max_examples=300, deadline=None)
@given(series(), st.data())
def test_a_further_shortfall_never_closes_a_gap(before: Series, data: st.DataObject) -> None:
    """A reviewed exposure with one more shortfall shows nothing more."""
    if not before.exposures:
        return
    number = data.draw(st.integers(0, len(before.exposures) - 1))
    code = data.draw(st.sampled_from(list(ShortfallCode)))
    exposures = list(before.exposures)
    exposures[number] = replace(
        exposures[number], shortfalls=(*exposures[number].shortfalls, Shortfall(code=code))
    )

    after = replace(before, exposures=tuple(exposures))

    assert audit(after).gap_targets() >= audit(before).gap_targets()


@settings(max_examples=300, deadline=None)
@given(series(), st.randoms(use_true_random=False))
def test_the_order_of_exposures_does_not_change_what_is_covered(before: Series, random) -> None:  # type: ignore[no-untyped-def]
    """Verdict, gaps and plan are the same for every order (what a retake repeats aside)."""
    shuffled = list(before.exposures)
    random.shuffle(shuffled)

    after = audit(replace(before, exposures=tuple(shuffled)))

    first = audit(before)
    assert after.verdict == first.verdict
    assert after.gap_targets() == first.gap_targets()
    assert [each.slot for each in after.plan.exposures] == [each.slot for each in first.plan.exposures]
    assert {t: set(ids) for t, ids in after.coverage.items()} == {t: set(ids) for t, ids in first.coverage.items()}


@settings(max_examples=300, deadline=None)
@given(series())
def test_a_plan_carried_out_leaves_only_what_cannot_be_closed(before: Series) -> None:
    """A good exposure in every planned slot gives complete, or leaves exactly the unclosable gaps."""
    plan = audit(before).plan
    after = before
    for number, planned in enumerate(plan.exposures):
        after = after.with_exposure(good_exposure(planned.slot, f"r{number}"))

    result = audit(after)

    assert result.gap_targets() == set(plan.unclosable)
    assert (result.verdict == "complete") == (not plan.unclosable)


@settings(max_examples=300, deadline=None)
@given(series())
def test_counts_and_reasons_agree_with_one_another(any_series: Series) -> None:
    """Asked is covered plus gaps; unclosable is not_in_template; every other gap is planned for."""
    result = audit(any_series)

    assert len(result.asked) == len(result.coverage) + len(result.gaps)
    assert {gap.target for gap in result.gaps if gap.reason == "not_in_template"} == set(result.plan.unclosable)
    closed = {target for planned in result.plan.exposures for target in planned.closes}
    assert closed == result.gap_targets() - set(result.plan.unclosable)
    if result.verdict == "unreviewed":
        assert all(gap.reason == "not_reviewed" for gap in result.gaps)


@settings(max_examples=300, deadline=None)
@given(series())
def test_an_image_that_needs_no_retake_stands_in_no_gap(any_series: Series) -> None:
    """Whatever a made-up-for image lost is covered by the images named."""
    result = audit(any_series)

    for made_up in result.made_up_for:
        for target in made_up.lost:
            assert set(result.coverage[target]) <= set(made_up.shown_by) | {made_up.exposure}
            assert result.coverage[target]
