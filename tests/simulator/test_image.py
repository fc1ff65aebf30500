"""The images themselves: grey order of the tissues, agreement with the truth, noise, motion, repeatability."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from app.core.dentition import Dentition, ToothState
from app.imaging.simulator import (
    AVERAGE,
    GOOD,
    Detector,
    Equipment,
    Mouth,
    Simulated,
    TechniqueErrors,
    expose,
    grown_mouth,
)
from app.imaging.simulator.aim import aimed
from app.imaging.simulator.published import linear_attenuation_per_mm
from tests.simulator.scenes import average_mouth, pose

WIDTH = 260


@cache
def taken(
    slot_id: str,
    errors: TechniqueErrors = GOOD,
    collimator: str = "rectangular",
    seed: int = 5,
    bits: int = 16,
) -> Simulated:
    equipment = Equipment(collimator="round" if collimator == "round" else "rectangular")
    return expose(
        pose(slot_id), average_mouth(), seed=seed, errors=errors, equipment=equipment, width=WIDTH, bits=bits
    )


def grey_at(made: Simulated, mouth: Mouth, slot_id: str, point: np.ndarray, reach: int = 2) -> float:
    """Median grey around the shadow of a point, as a share of white."""
    view = aimed(pose(slot_id), mouth).view
    u, v = view.project(point)[0]
    row = round((view.size_mm[1] / 2 - v) / made.pixel_mm - 0.5)
    column = round((u + view.size_mm[0] / 2) / made.pixel_mm - 0.5)
    patch = made.pixels[row - reach : row + reach + 1, column - reach : column + reach + 1]
    return float(np.median(patch)) / (2**made.bits - 1)


def test_slabs_of_equal_thickness_stand_in_the_order_of_the_tissues():
    """Enamel, dentine, bone, soft tissue (and pulp), air: from light to dark."""
    mu = linear_attenuation_per_mm(65.0)
    order = ["enamel", "dentine", "cortical_bone", "soft_tissue"]
    depths = [mu[name] * 3.0 for name in order] + [0.0]
    slabs = np.repeat(np.exp(-np.array(depths, dtype=np.float32))[None, :], 40, axis=0).repeat(40, axis=1)
    grey = Detector().grey(slabs, 0.1, np.random.default_rng(1), 1.0)
    means = [float(grey[:, 40 * i + 10 : 40 * i + 30].mean()) for i in range(5)]

    assert all(lighter > darker + 0.02 for lighter, darker in pairwise(means))


def test_on_a_molar_film_enamel_dentine_bone_cheek_stand_in_order():
    made, mouth = taken("LR-molar"), average_mouth()
    tooth = mouth.teeth["46"]
    size = tooth.shape.size
    jaw = mouth.jaws["lower"]
    between = 0.5 * (mouth.teeth["46"].neck + mouth.teeth["47"].neck)
    greys = [
        grey_at(made, mouth, "LR-molar", tooth.to_world([[0.0, 0.0, -0.78 * size.crown_mm]])),
        grey_at(made, mouth, "LR-molar", tooth.to_world([[0.38 * size.mesiodistal_mm, 0.0, -1.5]])),
        grey_at(made, mouth, "LR-molar", between + np.array([0, 0, jaw.up * 8.0]), reach=6),
        grey_at(made, mouth, "LR-molar", between - np.array([0, 0, jaw.up * 0.6 * size.crown_mm]), reach=0),
    ]
    enamel, dentine, bone, _ = greys
    open_space = float(np.percentile(made.pixels, 1)) / (2**made.bits - 1)

    assert enamel > dentine > bone > open_space


def test_the_pulp_is_darker_than_the_dentine_around_it():
    made, mouth = taken("LR-molar"), average_mouth()
    tooth = mouth.teeth["46"]
    pulp = grey_at(made, mouth, "LR-molar", tooth.to_world([[0.0, 0.0, -0.8]]))
    beside = grey_at(made, mouth, "LR-molar", tooth.to_world([[3.0, 0.0, -0.8]]))

    assert pulp < beside - 0.02


def test_metal_is_the_lightest_and_a_fixture_is_lighter_than_a_root():
    dentition = Dentition(states={"46": ToothState.IMPLANT})
    mouth = grown_mouth(dentition, 1, AVERAGE, filled_share=0.0)
    made = expose(pose("LR-molar"), mouth, width=WIDTH, bits=16)
    fixture = grey_at(made, mouth, "LR-molar", mouth.teeth["46"].to_world([[0.0, 0.0, 6.0]]))
    crown = grey_at(made, mouth, "LR-molar", mouth.teeth["46"].to_world([[0.0, 0.0, -3.0]]))
    root = grey_at(made, mouth, "LR-molar", mouth.teeth["47"].to_world([[1.9, 0.0, 7.0]]))

    assert crown > root
    assert fixture > root + 0.05


def test_a_missing_tooth_casts_no_shadow():
    mouth = grown_mouth(Dentition(states={"46": ToothState.MISSING}), 1, AVERAGE, filled_share=0.0)
    gap = expose(pose("LR-molar"), mouth, width=WIDTH, bits=16)
    crown = average_mouth().teeth["46"].to_world([[0.0, 0.0, -4.0]])

    assert grey_at(gap, mouth, "LR-molar", crown) < 0.5 * grey_at(
        taken("LR-molar"), average_mouth(), "LR-molar", crown
    )


@pytest.mark.parametrize(("shape", "offset"), [("rectangular", 15.0), ("round", 30.0)])
def test_the_unexposed_area_is_as_large_as_the_truth_says(shape, offset):
    made = taken("LR-premolar", TechniqueErrors(collimator_offset_mm=(offset, 0.0)), shape)
    white = float((made.pixels > 0.98 * (2**made.bits - 1)).mean())

    assert made.truth.collimated_fraction > 0.05
    assert white == pytest.approx(made.truth.collimated_fraction, abs=0.015)


def test_more_exposure_is_darker():
    means = [
        float(taken("LR-molar", TechniqueErrors(exposure=factor)).pixels.mean()) for factor in (0.3, 1.0, 3.0)
    ]

    assert means[0] > means[1] > means[2]


def test_less_exposure_is_noisier():
    """Quantum noise: on the log scale its spread grows as one over the root of the exposure."""
    flat = np.full((80, 80), 0.1, dtype=np.float32)
    spread = [float(Detector().grey(flat, 0.03, np.random.default_rng(2), factor).std()) for factor in (0.25, 1.0)]

    assert spread[0] / spread[1] == pytest.approx(2.0, rel=0.06)


def test_motion_blurs_along_its_direction_and_leaves_the_collimators_edge_sharp():
    still = taken("LR-premolar", TechniqueErrors(collimator_offset_mm=(15.0, 0.0))).pixels.astype(float)
    moved = taken("LR-premolar", TechniqueErrors(collimator_offset_mm=(15.0, 0.0), motion_mm=1.5)).pixels.astype(
        float
    )

    def steepest(image: np.ndarray, columns: slice) -> float:
        return float(np.percentile(np.abs(np.diff(image[:, columns], axis=1)), 99.5))

    edge = slice(60, 95)
    teeth = slice(110, 250)
    assert steepest(moved, teeth) < 0.7 * steepest(still, teeth)
    assert steepest(moved, edge) == pytest.approx(steepest(still, edge), rel=0.15)


def test_the_same_arguments_give_the_same_pixels():
    first, second = (expose(pose("UL-canine"), grown_mouth(Dentition(), 12), seed=3, width=160) for _ in range(2))

    np.testing.assert_array_equal(first.pixels, second.pixels)


def test_another_seed_gives_other_noise_on_the_same_teeth():
    first, second = taken("LR-molar", seed=5).pixels.astype(float), taken("LR-molar", seed=6).pixels.astype(float)

    assert not np.array_equal(first, second)
    assert np.corrcoef(first.ravel(), second.ravel())[0, 1] > 0.99


def test_two_patients_differ():
    one, two = (
        expose(pose("LR-molar"), grown_mouth(Dentition(), seed), seed=1, width=160).pixels.astype(float)
        for seed in (21, 22)
    )

    assert np.corrcoef(one.ravel(), two.ravel())[0, 1] < 0.97


@pytest.mark.parametrize(
    ("bits", "kind", "white"), [(8, np.uint8, 255), (12, np.uint16, 4095), (16, np.uint16, 65535)]
)
def test_levels_fill_the_depth_asked_for(bits, kind, white):
    made = taken("LR-premolar", TechniqueErrors(collimator_offset_mm=(15.0, 0.0)), bits=bits)

    assert made.pixels.dtype == kind
    assert made.pixels.max() == white


@pytest.mark.parametrize(("slot_id", "shape"), [("LR-molar", (197, 260)), ("U-incisors", (344, 260))])
def test_an_image_has_the_receptors_shape(slot_id, shape):
    assert taken(slot_id).pixels.shape == shape


def test_a_finer_image_is_the_same_scene():
    coarse = expose(pose("UR-premolar"), average_mouth(), width=200).pixels.astype(float)
    fine = expose(pose("UR-premolar"), average_mouth(), width=1000).pixels.astype(float)
    rows = fine.shape[0] // 5
    shrunk = fine[: rows * 5].reshape(rows, 5, 200, 5).mean(axis=(1, 3))

    assert np.corrcoef(shrunk.ravel(), coarse[:rows].ravel())[0, 1] > 0.985


def test_no_exposure_is_refused():
    with pytest.raises(ValueError, match="exposure must be above 0"):
        expose(pose("LR-molar"), average_mouth(), errors=TechniqueErrors(exposure=0.0), width=100)
