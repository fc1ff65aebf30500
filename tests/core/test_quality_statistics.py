"""Laws of the quality statistics, and an independent library's answers to the same questions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa as their_kappa
from statsmodels.stats.proportion import proportion_confint

from app.core.errors import InputError
from app.core.quality.agreement import cohens_kappa, cross_table
from app.core.quality.comparison import (
    Tally,
    expected_events,
    funnel_limits,
    observed_against_expected,
    poisson_interval,
)
from app.core.quality.control_charts import Group, individuals_chart, means_chart, p_chart
from app.core.quality.drift import cusum, ewma
from app.core.quality.rates import rate, wilson
from app.core.quality.run_rules import run_signals
from app.core.quality.targets import GradeTarget, verdict
from app.exchange.quality_targets import grading_schemes

counts = st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
tallies = counts.map(lambda pair: Tally(events=pair[0], exposures=pair[1]))
some_tallies = st.lists(tallies, min_size=1, max_size=20)


@given(counts, st.sampled_from([0.8, 0.95, 0.998]))
def test_wilson_agrees_with_statsmodels(pair, confidence):
    low, high = proportion_confint(*pair, alpha=1 - confidence, method="wilson")

    found = wilson(*pair, confidence)

    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


@given(counts)
def test_the_interval_holds_the_share_and_is_never_a_point(pair):
    found = rate(*pair)

    assert found.interval.holds(found.share)
    assert 0 <= found.interval.low < found.interval.high <= 1


@given(counts)
def test_the_interval_of_the_others_is_the_mirror_image(pair):
    successes, n = pair
    here, there = wilson(successes, n), wilson(n - successes, n)

    assert (here.low, here.high) == pytest.approx((1 - there.high, 1 - there.low), abs=1e-12)


def test_nothing_counted_has_no_interval():
    assert wilson(0, 0) is None
    assert rate(0, 0).share is None
    assert rate(0, 0).small


@pytest.mark.parametrize(("successes", "n"), [(-1, 5), (6, 5), (0, -1)])
def test_counts_that_cannot_be_are_refused_by_name(successes, n):
    with pytest.raises(InputError, match=r"numerator|denominator"):
        wilson(successes, n)


@given(st.lists(st.lists(st.integers(0, 60), min_size=3, max_size=3), min_size=3, max_size=3))
def test_kappa_agrees_with_statsmodels(table):
    total = sum(map(sum, table))
    if total == 0 or any(table[i][i] == total for i in range(3)):
        return
    theirs = their_kappa(table)

    ours = cohens_kappa(table)

    assert ours.value == pytest.approx(theirs.kappa, abs=1e-9)
    spread = (theirs.kappa_upp - theirs.kappa_low) / 2
    if math.isfinite(spread):
        assert ours.interval.low == pytest.approx(max(-1, theirs.kappa - spread), abs=1e-6)
        assert ours.interval.high == pytest.approx(min(1, theirs.kappa + spread), abs=1e-6)


def test_kappa_is_undefined_where_both_used_one_grade():
    assert cohens_kappa([[30, 0], [0, 0]]).value is None


def test_kappa_is_nought_where_one_reader_always_said_the_same():
    assert cohens_kappa([[20, 0], [10, 0]]).value == pytest.approx(0)


def test_the_cross_table_counts_each_pair_once():
    pairs = [("A", "A"), ("A", "N"), ("A", "A"), ("N", "A")]

    assert cross_table(pairs, ["A", "N"]) == ((2, 1), (1, 0))


def test_a_grade_that_is_none_is_refused_with_the_nearest():
    with pytest.raises(InputError, match=r"pairs\[0\].*no grade"):
        cross_table([("A", "B")], ["A", "N"])


@given(st.integers(0, 1500), st.sampled_from([0.95, 0.998]))
@settings(max_examples=40)
def test_the_poisson_interval_agrees_with_chi_squared_quantiles(observed, confidence):
    """Exact by the quantiles of scipy; Byar's approximation beyond 200 within a thousandth."""
    tail = (1 - confidence) / 2
    low = stats.chi2.ppf(tail, 2 * observed) / 2 if observed else 0.0
    high = stats.chi2.ppf(1 - tail, 2 * observed + 2) / 2

    found = poisson_interval(observed, confidence)

    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-3 if observed > 200 else 1e-8)


@given(st.dictionaries(st.sampled_from("abcdef"), tallies, min_size=1))
def test_the_whole_practice_is_as_expected(strata):
    """Observed over expected of all together is 1: the strata's events are neither lost nor made."""
    found = observed_against_expected(strata, strata)

    assert found.expected == pytest.approx(found.observed)
    if found.observed:
        assert found.ratio == pytest.approx(1)
        assert found.standardised == pytest.approx(found.observed / found.exposures)


@given(st.lists(st.dictionaries(st.sampled_from("abcdef"), tallies, min_size=1), min_size=2, max_size=5))
def test_expected_events_of_operators_add_up_to_all_events(operators):
    whole = {}
    for own in operators:
        for stratum, tally in own.items():
            whole[stratum] = whole[stratum] + tally if stratum in whole else tally

    total = sum(expected_events(own, whole) for own in operators)

    assert total == pytest.approx(sum(tally.events for tally in whole.values()))


def test_who_takes_the_harder_views_is_not_the_worse_for_it():
    """Two as good as each other on each view: their crude shares differ twofold, their ratios do not."""
    hard, easy = 0.2, 0.05
    one = {"molar": Tally(events=160, exposures=800), "incisor": Tally(events=10, exposures=200)}
    two = {"molar": Tally(events=40, exposures=200), "incisor": Tally(events=40, exposures=800)}
    whole = {view: one[view] + two[view] for view in one}
    assert whole["molar"].events / whole["molar"].exposures == hard
    assert whole["incisor"].events / whole["incisor"].exposures == easy

    assert observed_against_expected(one, whole).ratio == pytest.approx(1)
    assert observed_against_expected(two, whole).ratio == pytest.approx(1)


def test_a_stratum_that_the_standard_does_not_know_is_named():
    with pytest.raises(InputError, match="no rate for"):
        expected_events({"x": Tally(events=0, exposures=1)}, {"y": Tally(events=0, exposures=1)})


@given(st.floats(0.05, 9000), st.sampled_from([0.95, 0.998]))
@settings(max_examples=40, deadline=None)
def test_funnel_limits_hold_what_they_promise(expected, confidence):
    """The chance of a count outside is at most what was asked for; a count further inside would be too likely."""
    tail = (1 - confidence) / 2
    limits = funnel_limits(expected, confidence)

    assert stats.poisson.cdf(math.ceil(limits.low * expected) - 1, expected) <= tail * 1.02
    assert stats.poisson.sf(math.floor(limits.high * expected) + 1, expected) <= tail * 1.02
    assert limits.low < 1 < limits.high


@given(st.floats(0.5, 1500))
@settings(deadline=None)
def test_the_funnel_narrows(expected):
    """Twice as many expected, narrower limits; from one count to the next it may still step up a little."""
    assert funnel_limits(2 * expected, 0.95).high < funnel_limits(expected, 0.95).high


@given(some_tallies)
def test_each_point_of_a_p_chart_has_the_limits_of_its_own_number(months):
    points = p_chart(months)

    for point, month in zip(points, months, strict=True):
        sigma = math.sqrt(point.centre * (1 - point.centre) / month.exposures)
        assert point.upper == pytest.approx(min(1, point.centre + 3 * sigma))
        assert point.lower == pytest.approx(max(0, point.centre - 3 * sigma))


def test_a_month_without_exposures_has_no_value_and_no_signal():
    points = p_chart([Tally(events=3, exposures=60), Tally(events=0, exposures=0), Tally(events=2, exposures=50)])

    assert points[1].value is None
    assert points[1].signals == ()


def test_a_baseline_sets_the_centre_line():
    before = [Tally(events=5, exposures=100)] * 6
    points = p_chart([*before, Tally(events=30, exposures=100)], baseline=6)

    assert points[0].centre == pytest.approx(0.05)
    assert "beyond_limits" in points[-1].signals


def test_means_of_few_images_have_wider_limits():
    points = means_chart([Group(mean=10, variance=4, n=4), Group(mean=10, variance=4, n=16)])

    assert points[0].upper - 10 == pytest.approx(3.0)
    assert points[1].upper - 10 == pytest.approx(1.5)


def test_a_value_that_never_varied_signals_when_it_does():
    points = individuals_chart([5.0, 5.0, 5.0, 5.5], baseline=3)

    assert [point.signals for point in points[:3]] == [(), (), ()]
    assert "beyond_limits" in points[3].signals


@pytest.mark.parametrize(
    ("scores", "rule"),
    [
        ([0.0, 3.1], "beyond_limits"),
        ([2.1, 0.0, 2.1], "two_of_three"),
        ([-1.1, -1.2, 0.5, -1.3, -1.4], "four_of_five"),
        ([0.1] * 8, "eight_on_one_side"),
        ([-0.1] * 8, "eight_on_one_side"),
    ],
)
def test_each_run_rule_signals_at_the_point_that_completes_it(scores, rule):
    found = run_signals(scores)

    assert found[-1] == (rule,)
    assert not any(found[:-1])


@pytest.mark.parametrize(
    "scores",
    [[3.0], [2.1, 0.0, -2.1], [2.1, 0.0, 0.0, 2.1], [1.1, 1.1, -1.1, -1.1, 1.1], [0.1] * 7, [0.1] * 7 + [-0.1]],
)
def test_what_just_misses_a_rule_does_not_signal(scores):
    assert not any(run_signals(scores))


@given(st.lists(st.floats(-4, 4), max_size=40))
def test_the_rules_do_not_care_which_side_is_up(scores):
    assert run_signals(scores) == run_signals([-each for each in scores])


@given(st.lists(st.floats(-4, 4), max_size=30), st.lists(st.integers(0, 30), max_size=5))
def test_an_empty_period_neither_continues_nor_ends_a_run(scores, places):
    with_gaps = list(scores)
    for place in places:
        with_gaps.insert(min(place, len(with_gaps)), None)

    found = [each for score, each in zip(with_gaps, run_signals(with_gaps), strict=True) if score is not None]

    assert tuple(found) == run_signals(scores)


@given(st.lists(st.floats(-10, 10), min_size=1, max_size=40), st.floats(0.05, 1))
def test_the_average_stays_among_its_values(values, weight):
    points = ewma(values, centre=0.0, sigmas=1.0, weight=weight)

    assert all(min(0, *values) - 1e-9 <= point.ewma <= max(0, *values) + 1e-9 for point in points)


@given(st.lists(st.floats(-10, 10), min_size=1, max_size=40))
def test_with_all_the_weight_on_the_newest_the_average_is_shewharts_chart(values):
    points = ewma(values, centre=0.0, sigmas=1.0, weight=1.0)

    assert [point.signal for point in points] == [abs(value) > 3 + 1e-12 for value in values]


@given(st.floats(0.1, 0.9), st.integers(150, 200))
def test_the_limits_of_the_average_settle_where_the_handbook_has_them(weight, periods):
    """NIST/SEMATECH e-Handbook 6.3.2.4: sigma times the root of weight / (2 - weight)."""
    last = ewma([0.0] * periods, centre=0.0, sigmas=1.0, weight=weight)[-1]

    assert last.upper == pytest.approx(3 * math.sqrt(weight / (2 - weight)), rel=1e-6)


def test_a_slow_drift_is_caught_by_the_average_before_any_single_point():
    """One standard deviation, reached over ten months."""
    months = [Tally(events=round(100 * (0.08 + 0.003 * max(0, n - 12))), exposures=100) for n in range(30)]
    chart = p_chart(months, baseline=12)
    drift = ewma([point.value for point in chart], centre=chart[0].centre, sigmas=[point.sigma for point in chart])
    first_beyond = next((n for n, point in enumerate(chart) if "beyond_limits" in point.signals), 99)
    first_drift = next(n for n, point in enumerate(drift) if point.signal)

    assert first_drift < first_beyond


@given(st.lists(st.floats(-5, 5), max_size=40))
def test_the_sums_mirror_each_other(values):
    there = cusum(values, target=0, allowance=0.5, decision=4)
    back = cusum([-each for each in values], target=0, allowance=0.5, decision=4)

    assert [(each.high, each.low) for each in there] == [(each.low, each.high) for each in back]


@given(counts, st.floats(0.01, 0.99))
def test_a_verdict_is_only_given_where_the_interval_lies_on_one_side(pair, share):
    target = GradeTarget(grade="A", bound="at_least", share=share)
    interval = wilson(*pair)

    said = verdict(*pair, target)

    assert (said == "too_few") == (interval.low < share <= interval.high)


@given(counts, st.floats(0.01, 0.99))
def test_at_least_of_the_good_is_at_most_of_the_bad(pair, share):
    good = GradeTarget(grade="A", bound="at_least", share=share)
    bad = GradeTarget(grade="N", bound="at_most", share=1 - share)
    interval = wilson(*pair)
    if min(abs(interval.low - share), abs(interval.high - share)) < 1e-9:
        return

    assert verdict(*pair, good) == verdict(pair[1] - pair[0], pair[1], bad)


def test_a_practices_own_target_takes_the_place_of_the_published_one():
    scheme = grading_schemes()["two-grades-2020"].with_own({"A:digital": 0.9})

    assert [target.share for target in scheme.targets] == [0.9, 0.9]


def test_a_target_that_the_scheme_lacks_is_refused():
    with pytest.raises(InputError, match="no such target"):
        grading_schemes()["two-grades-2020"].with_own({"B:digital": 0.9})
