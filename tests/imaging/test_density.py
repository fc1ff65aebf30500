"""How light an image is: monotone under the fault, exact at the ends, blind to what must not matter."""

from __future__ import annotations

import numpy as np
import pytest

from app.cli.simulate import usual_dentition
from app.exchange.shared_data import builtin_templates
from app.imaging.density import density_of
from app.imaging.finding import FindingCode, Severity
from app.imaging.findings import inspect_radiograph
from app.imaging.planes import fields_of
from app.imaging.simulator import SlotPose, TechniqueErrors, expose, grown_mouth
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth

SEEDS = (0, 1, 2, 3, 5)


def measured(levels):
    return inspect_radiograph(as_radiograph(levels)).measurements


def severity(levels, code):
    found = [each.severity for each in inspect_radiograph(as_radiograph(levels)).findings if each.code is code]
    return found[0] if found else None


def test_an_even_plane_has_its_level_at_every_percentile():
    fine = np.full((60, 80), 0.4, np.float32)
    fields = fields_of(fine)
    found = density_of(fine, fields, np.zeros(fields.mean.shape, bool), 0.0)

    assert (found.p5, found.p50, found.p95) == pytest.approx((0.4, 0.4, 0.4), abs=0.001)
    assert (found.contrast, found.structure) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_a_ramp_has_the_percentiles_of_a_ramp():
    fine = np.tile(np.linspace(0.1, 0.9, 800, dtype=np.float32), (600, 1))
    fields = fields_of(fine)
    found = density_of(fine, fields, np.zeros(fields.mean.shape, bool), 0.0)

    assert (found.p5, found.p50, found.p95) == pytest.approx((0.14, 0.5, 0.86), abs=0.01)
    assert found.darkness == pytest.approx((0.3 + 0.5 + 0.7) / 3, abs=0.01)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_darker_the_image_the_lower_its_darkness(seed):
    values = [measured(mouth(seed) * factor)["darkness"] for factor in (1.0, 0.8, 0.6, 0.4, 0.2)]

    assert values == sorted(values, reverse=True)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_paler_the_image_the_higher_its_lightness(seed):
    values = [measured(mouth(seed) * (1 - veil) + veil)["lightness"] for veil in (0.0, 0.2, 0.4, 0.6, 0.8)]

    assert values == sorted(values)


@pytest.mark.parametrize("seed", SEEDS)
def test_grossly_dark_light_and_flat_images_fail_by_their_codes(seed):
    picture = mouth(seed)

    assert severity(picture * 0.3, FindingCode.TOO_DARK) is Severity.FAIL
    assert severity(picture * 0.4 + 0.6, FindingCode.TOO_LIGHT) is Severity.FAIL
    assert severity(picture * 0.12 + 0.4, FindingCode.LOW_CONTRAST) is Severity.FAIL


@pytest.mark.parametrize("seed", SEEDS)
def test_metal_and_open_space_do_not_move_the_measure_much(seed):
    picture = mouth(seed)
    rows, columns = picture.shape
    metal, space = picture.copy(), picture.copy()
    metal[rows // 4 : rows // 2, columns // 4 : columns // 2] = 1.0
    space[: rows // 4] = 0.0

    assert measured(metal)["lightness"] == pytest.approx(measured(picture)["lightness"], abs=0.06)
    assert measured(space)["darkness"] == pytest.approx(measured(picture)["darkness"], abs=0.12)


def test_raw_data_in_a_narrow_band_are_not_judged_by_their_level():
    found = inspect_radiograph(as_radiograph(faults.raw16(mouth(1))))

    assert found.measurements["levels_absolute"] == 0.0
    assert found.findings == ()


def test_a_deep_file_that_fills_its_container_is_judged_like_its_8_bit_copy():
    deep = inspect_radiograph(as_radiograph((mouth(1) * 65535).astype(np.uint16))).measurements
    flat = measured(mouth(1))

    assert deep["levels_absolute"] == 1.0
    assert deep["darkness"] == pytest.approx(flat["darkness"], abs=0.01)


@pytest.mark.parametrize("level", [0.0, 0.3, 1.0])
def test_an_even_image_is_blank_and_nothing_else(level):
    found = inspect_radiograph(as_radiograph(np.full((400, 520), level, np.float32))).findings

    assert [each.code for each in found] == [FindingCode.BLANK]


@pytest.mark.parametrize("sigma", [0.005, 0.05, 0.15])
def test_noise_without_anatomy_is_blank(sigma):
    plain = faults.scattered(np.full((400, 520), 0.5, np.float32), sigma)

    assert severity(plain, FindingCode.BLANK) is Severity.FAIL


def test_the_even_fall_off_of_a_beam_without_a_patient_is_blank():
    y, x = np.mgrid[-1:1:400j, -1:1:520j]
    beam = 0.5 - 0.2 * (x - 0.3) ** 2 - 0.15 * y**2 + 0.1 * x

    assert severity(faults.scattered(beam.astype(np.float32), 0.01), FindingCode.BLANK) is Severity.FAIL


def test_noise_in_a_deep_file_is_blank_too():
    rng = np.random.default_rng(3)
    deep = (1000 + 12 * rng.standard_normal((400, 520))).astype(np.uint16)

    assert severity(deep, FindingCode.BLANK) is Severity.FAIL


@pytest.mark.parametrize("slot", ["U-incisors", "UR-molar", "UL-premolar", "LR-canine", "L-incisors"])
def test_a_toothless_jaw_exposed_as_it_should_be_is_neither_dark_nor_flat(slot):
    template = builtin_templates()["edentulous-14"]
    found = next(each for each in template.slots if each.id == slot)
    mouth_ = grown_mouth(usual_dentition(template), 31)
    said = inspect_radiograph(
        as_radiograph(expose(SlotPose.of(found), mouth_, seed=5, errors=TechniqueErrors(), width=420).pixels)
    ).findings

    assert {each.code for each in said} & {FindingCode.TOO_DARK, FindingCode.LOW_CONTRAST} == set()


def test_a_toothless_jaw_four_times_overexposed_is_dark():
    template = builtin_templates()["edentulous-14"]
    found = next(each for each in template.slots if each.id == "UR-molar")
    errors = TechniqueErrors(exposure=4.0)
    over = expose(SlotPose.of(found), grown_mouth(usual_dentition(template), 31), seed=5, errors=errors, width=420)

    assert severity(over.pixels, FindingCode.TOO_DARK) is not None
