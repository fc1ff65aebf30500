"""A receptor's own normal range: robust, slow to learn, and bounded in what it moves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from app.imaging.findings import inspect_radiograph
from app.imaging.normal_range import FEWEST_IMAGES, TO_DEVIATION, Usual, adjusted, learn_normal
from app.imaging.thresholds import usual_thresholds
from tests.imaging.pictures import as_radiograph, mouth


def images(values) -> list[dict[str, float]]:
    return [{"edge_width": float(each)} for each in values]


def scatter(count: int, middle: float, deviation: float, seed: int = 0) -> np.ndarray:
    return np.random.default_rng(seed).normal(middle, deviation, count)


def test_the_factor_is_that_of_the_normal_distribution():
    """Rousseeuw and Croux, J Am Stat Assoc 88:1273 (1993): 1 / (75th percentile of the normal distribution)."""
    assert pytest.approx(1 / norm.ppf(0.75), abs=1e-4) == TO_DEVIATION


def test_too_few_images_teach_nothing():
    assert learn_normal(images([1.0] * (FEWEST_IMAGES - 1))) is None
    assert learn_normal([]) is None


def test_middle_and_deviation_of_normal_scatter_are_found():
    usual = learn_normal(images(scatter(2000, 1.4, 0.2)))["edge_width"]

    assert usual.middle == pytest.approx(1.4, abs=0.02)
    assert usual.deviation == pytest.approx(0.2, abs=0.015)
    assert usual.images == 2000


def test_a_fifth_of_faulty_images_hardly_moves_it():
    good = scatter(400, 1.4, 0.2)
    clean = learn_normal(images(good))["edge_width"]
    mixed = learn_normal(images([*good, *scatter(100, 6.0, 1.0)]))["edge_width"]

    assert mixed.middle == pytest.approx(clean.middle, abs=0.1)
    assert mixed.deviation == pytest.approx(clean.deviation, abs=0.1)


def test_a_measurement_that_few_images_have_is_left_out():
    past = [{"noise": 0.01} for _ in range(40)]
    past[0] = {"noise": 0.01, "edge_width": 9.0}

    assert set(learn_normal(past)) == {"noise"}


def test_a_softer_receptor_is_warned_of_later_and_a_sharper_one_sooner():
    limits = usual_thresholds()
    soft = adjusted(limits, {"edge_width": Usual(middle=2.6, deviation=0.2, images=50)})
    sharp = adjusted(limits, {"edge_width": Usual(middle=1.6, deviation=0.15, images=50)})

    assert soft["blurred.warning"] == pytest.approx(3.2)
    assert sharp["blurred.warning"] == pytest.approx(2.05)
    assert soft["blurred.fail"] / soft["blurred.warning"] == pytest.approx(
        limits["blurred.fail"] / limits["blurred.warning"]
    )


def test_for_contrast_the_warning_stands_below_the_middle():
    own = adjusted(usual_thresholds(), {"contrast": Usual(middle=0.5, deviation=0.08, images=50)})

    assert own["low_contrast.warning"] == pytest.approx(0.26)


@pytest.mark.parametrize("middle", [0.01, 50.0])
def test_a_receptor_whose_every_image_is_faulty_does_not_become_its_own_norm(middle):
    limits = usual_thresholds()
    own = adjusted(limits, {"edge_width": Usual(middle=middle, deviation=0.0, images=500)})

    assert limits["blurred.warning"] / 1.5 <= own["blurred.warning"] <= limits["blurred.warning"] * 1.5


def test_nothing_else_moves():
    limits = usual_thresholds()
    own = adjusted(limits, {"edge_width": Usual(middle=2.0, deviation=0.1, images=50)})

    assert {name for name in limits if own[name] != limits[name]} == {"blurred.warning", "blurred.fail"}


def test_it_learns_from_what_an_inspection_measures():
    past = [inspect_radiograph(as_radiograph(mouth(seed))).measurements for seed in range(FEWEST_IMAGES)]
    normal = learn_normal(past)

    assert {"edge_width", "noise_ratio", "contrast"} <= set(normal)
    assert set(adjusted(usual_thresholds(), normal)) == set(usual_thresholds())
