"""Our statistics against worked examples that others published.

In shared/published/quality_statistics.json with their grades: Newcombe (Stat Med 1998;17:857-872, Table I),
Montgomery's orange-juice cans, the NIST/SEMATECH e-Handbook of Statistical Methods (6.3.2.2 individuals, 6.3.2.3
CUSUM, 6.3.2.4 EWMA), Montgomery and Runger (Table 16-8), and kappa as scikit-learn computes it.
"""

from __future__ import annotations

import re

import pytest

from app.core.quality.agreement import cohens_kappa
from app.core.quality.comparison import Tally
from app.core.quality.control_charts import individuals_chart, p_chart
from app.core.quality.drift import cusum, ewma
from app.core.quality.rates import wilson
from tests.published.shared_files import every_text, published

EXAMPLES = published("quality_statistics")
TARGETS = published("quality_targets")
JUICE = EXAMPLES["orange_juice"]


@pytest.mark.parametrize(("successes", "n", "low", "high"), EXAMPLES["wilson"]["rows"])
def test_wilson_interval_of_newcombes_table(successes, n, low, high):
    """Newcombe 1998, Table I, method 3."""
    found = wilson(successes, n)

    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("successes", "n", "low", "high"), EXAMPLES["published_rates"]["rows"])
def test_wilson_interval_of_published_retake_rates(successes, n, low, high):
    """Three published retake studies."""
    found = wilson(successes, n)

    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-6)


def cans(counts):
    return [Tally(events=count, exposures=JUICE["n"]) for count in counts]


def out(points, *, names=None):
    names = names or range(1, len(points) + 1)
    return [name for name, point in zip(names, points, strict=True) if "beyond_limits" in point.signals]


def check_limits(point, row):
    found = (point.centre, point.lower, point.upper)
    assert found == pytest.approx((row["centre"], row["lower"], row["upper"]), abs=1e-6)


def test_p_chart_of_all_thirty_samples_of_orange_juice():
    """Montgomery, Introduction to Statistical Quality Control."""
    points = p_chart(cans(JUICE["first"]))

    check_limits(points[0], JUICE["all"])
    assert out(points) == JUICE["all"]["out"]


def test_p_chart_without_the_two_samples_whose_cause_was_found():
    names = [number for number in range(1, 31) if number not in JUICE["without"]["left_out"]]
    points = p_chart(cans([JUICE["first"][number - 1] for number in names]))

    check_limits(points[0], JUICE["without"])
    assert out(points, names=names) == JUICE["without"]["out"]


def test_p_chart_of_the_samples_after_the_adjustment():
    """The lower limit is cut at 0, and the largest share lies just inside."""
    points = p_chart(cans(JUICE["after"]))

    check_limits(points[0], JUICE["afterwards"])
    assert out(points) == JUICE["afterwards"]["out"]


def test_ewma_of_the_nist_handbook():
    """NIST/SEMATECH e-Handbook 6.3.2.4: averages to two decimals, the page's limits cut after four."""
    example = EXAMPLES["ewma"]
    points = ewma(
        example["data"], centre=example["start"], sigmas=example["sigma"], weight=example["weight"], settled=True
    )

    assert [point.ewma for point in points] == pytest.approx(example["ewma"], abs=0.0051)
    assert points[-1].lower == pytest.approx(example["lower"], abs=1e-4)
    assert points[-1].upper == pytest.approx(example["upper"], abs=1e-4)
    assert not any(point.signal for point in points)


@pytest.mark.parametrize("example", EXAMPLES["cusum"], ids=lambda example: example["name"])
def test_cusum_of_published_tables(example):
    """NIST/SEMATECH e-Handbook 6.3.2.3; Montgomery and Runger, Table 16-8."""
    points = cusum(
        example["data"],
        target=example["target"],
        allowance=example["allowance"],
        decision=example["decision"],
    )
    signals = [number for number, point in enumerate(points, 1) if point.signal]

    assert [point.high for point in points] == pytest.approx(example["high"], abs=1e-6)
    assert [point.low for point in points] == pytest.approx(example["low"], abs=1e-6)
    assert (signals or [None])[0] == example["first_signal"]
    if example["total"]:
        assert [point.total for point in points] == pytest.approx(example["total"], abs=1e-6)


def test_individuals_chart_of_the_nist_handbook():
    """NIST/SEMATECH e-Handbook 6.3.2.2, flow rates."""
    example = EXAMPLES["individuals"]
    points = individuals_chart(example["data"])

    found = (points[0].centre, points[0].lower, points[0].upper)
    assert found == pytest.approx((example["centre"], example["lower"], example["upper"]), abs=2e-3)
    assert not any(point.signals for point in points)


@pytest.mark.parametrize(("table", "kappa"), EXAMPLES["kappa"]["rows"])
def test_kappa_of_published_tables(table, kappa):
    assert cohens_kappa(table).value == pytest.approx(kappa, abs=1e-6)


@pytest.mark.parametrize("table", [EXAMPLES, TARGETS])
def test_every_source_cited_is_described_and_every_one_described_is_cited(table):
    cited = {
        found
        for name, part in table.items()
        if name != "sources"
        for text in every_text(part)
        for found in re.findall(r"\bS\d{1,3}\b", text)
    }

    assert cited == set(table["sources"])


def test_the_grading_schemes_are_those_published():
    """Guidance Notes 2020: digital at least 95 %, film 90 %; of 1994: 70, 20 and 10 %, withdrawn in 2020."""
    schemes = {each["id"]: each for each in TARGETS["schemes"]}
    shares = {
        name: [(t["grade"], t["bound"], t["share"], t["receptors"]) for t in each["targets"]]
        for name, each in schemes.items()
    }

    assert shares["two-grades-2020"] == [("A", "at_least", 0.95, "digital"), ("A", "at_least", 0.9, "film")]
    assert shares["three-grades-1994"] == [
        ("1", "at_least", 0.7, "any"),
        ("2", "at_most", 0.2, "any"),
        ("3", "at_most", 0.1, "any"),
    ]
    assert "withdrawn in October 2020" in schemes["three-grades-1994"]["status"]


def test_every_target_and_note_has_a_graded_source():
    graded = ("verified", "from memory", "computed", "common practice")
    parts = [part for scheme in TARGETS["schemes"] for part in (scheme, *scheme["targets"], *scheme["notes"])]

    assert all(any(word in part["source"] for word in graded) for part in parts)
