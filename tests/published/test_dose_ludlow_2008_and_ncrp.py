"""The estimates of dose against the sources that they were copied from, and against each other.

Sources: Ludlow JB, Davies-Ludlow LE, White SC, J Am Dent Assoc 2008;139:1237-1243, seen through two independent
notes (S93, S94) and the ADA's table of 2024 (S77); NCRP Reports 160 and 145 as quoted in S95 and S96.
"""

from __future__ import annotations

import pytest

from app.core.errors import InputError
from app.core.quality.dose import DoseRange, ExposureCount, average_exposure, summed
from app.exchange.dose_data import dose_table
from tests.published.shared_files import published

TABLE = dose_table()
ESTIMATES = {each["id"]: each for each in published("dose")["estimates"]}


@pytest.mark.parametrize(
    ("name", "usv"),
    [
        ("full-mouth-plate-rectangular", 34.9),
        ("full-mouth-plate-round", 170.7),
        ("full-mouth-d-speed-round", 388),
        ("bitewings-plate-rectangular", 5.0),
    ],
)
def test_the_2008_paper_has_one_value_for_each_examination(name, usv):
    assert ESTIMATES[name]["low_usv"] == ESTIMATES[name]["high_usv"] == usv


def test_d_speed_film_behind_a_round_collimator_gives_the_21_per_image_that_ncrp_160_quotes():
    """S95: 21 per image; 388 over 18 images is 21.6."""
    one = next(each for each in TABLE.estimates if each.id == "full-mouth-d-speed-round").per_image

    assert one.high_usv == pytest.approx(21.6, abs=0.05)
    assert int(one.high_usv) == 21


def test_the_widest_range_is_the_1_to_22_per_image_that_ncrp_160_quotes():
    """S95. Receptor and collimation unknown: from 0.8 to 21.6, which rounds to the quoted range."""
    quoted = published("dose")["cross_checks"]["per_image_quoted_usv"]

    widest = TABLE.per_exposure(None, None)

    assert round(widest.low_usv) == quoted["low"]
    assert round(widest.high_usv) == quoted["high"]


def test_what_ncrp_160_uses_for_an_image_lies_in_the_widest_range_and_18_make_its_series():
    """S95: 5 per intraoral image, 90 per series of 18."""
    checks = published("dose")["cross_checks"]
    widest = TABLE.per_exposure(None, None)

    assert widest.low_usv < checks["per_image_used_usv"]["value"] < widest.high_usv
    assert checks["per_image_used_usv"]["value"] * 18 == checks["series_used_usv"]["value"]


def test_e_speed_film_is_the_15_to_100_of_ncrp_145():
    """S96."""
    assert (ESTIMATES["full-mouth-e-speed"]["low_usv"], ESTIMATES["full-mouth-e-speed"]["high_usv"]) == (15, 100)


def test_the_newer_study_finds_less_behind_a_rectangle_than_behind_a_round_collimator():
    """Johnson 2020 as noted in S94: adult 54 against 86, child 44."""
    rectangle, ring = ESTIMATES["full-mouth-newer-rectangular"], ESTIMATES["full-mouth-newer-round"]
    child = published("dose")["cross_checks"]["child_full_mouth_rectangular_usv"]["value"]

    assert (child, rectangle["low_usv"], ring["low_usv"]) == (44, 54, 86)


def test_a_plate_behind_a_rectangle_spans_the_studies():
    """5.0 over 4 bitewings is 1.25 (S93); 54 over 18 is 3.0 (S94)."""
    found = TABLE.per_exposure("phosphor_plate", "rectangular")

    assert found.low_usv == pytest.approx(1.25)
    assert found.high_usv == pytest.approx(3.0)


@pytest.mark.parametrize("kind", ["phosphor_plate", "direct_sensor", "film"])
def test_a_rectangle_never_reads_as_more_than_a_round_collimator(kind):
    rectangle, ring = TABLE.per_exposure(kind, "rectangular"), TABLE.per_exposure(kind, "round")

    assert rectangle.low_usv <= ring.low_usv
    assert rectangle.high_usv < ring.high_usv


@pytest.mark.parametrize("kind", ["phosphor_plate", "direct_sensor", "film"])
def test_what_is_not_known_gives_the_wider_range(kind):
    unknown, widest = TABLE.per_exposure(kind, None), TABLE.per_exposure(None, None)
    for collimation in ("rectangular", "round"):
        known = TABLE.per_exposure(kind, collimation)

        assert widest.low_usv <= unknown.low_usv <= known.low_usv
        assert known.high_usv <= unknown.high_usv <= widest.high_usv


def test_ranges_add_lowest_to_lowest_and_highest_to_highest():
    counts = [
        ExposureCount(receptor_kind="phosphor_plate", collimation="rectangular", exposures=100, retakes=10),
        ExposureCount(receptor_kind="film", collimation="round", exposures=10, retakes=0),
    ]

    every, again = summed(TABLE, counts)

    assert every.low_usv == pytest.approx(100 * 5.0 / 4 + 10 * 15 / 18)
    assert every.high_usv == pytest.approx(100 * 54 / 18 + 10 * 388 / 18)
    assert again.low_usv == pytest.approx(10 * 5.0 / 4)
    assert average_exposure(TABLE, counts).high_usv == pytest.approx(every.high_usv / 110)


def test_a_practice_without_exposures_has_no_dose_and_the_widest_range_for_one():
    assert summed(TABLE, []) == (DoseRange(low_usv=0, high_usv=0), DoseRange(low_usv=0, high_usv=0))
    assert average_exposure(TABLE, []) == TABLE.per_exposure(None, None)


def test_an_unknown_kind_or_collimation_is_refused_with_the_nearest_known():
    with pytest.raises(InputError, match=r'receptor_kind: no estimate .* Did you mean "film"'):
        TABLE.per_exposure("flim", "round")
    with pytest.raises(InputError, match=r'collimation: "rectangel" .* Did you mean "rectangular"'):
        TABLE.per_exposure("film", "rectangel")


@pytest.mark.parametrize("each", TABLE.estimates, ids=lambda each: each.id)
def test_every_estimate_has_its_grade_and_applies_somewhere(each):
    used = {name for names in TABLE.applies_to.values() for name in names}

    assert "verified: S" in each.grade
    assert each.images_grade.startswith(("verified", "computed", "from memory"))
    assert each.id in used
