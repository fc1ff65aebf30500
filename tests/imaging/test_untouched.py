"""What must not be called a fault: well-made pictures, and the many ways in which files are untidy."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.finding import FindingCode, Severity
from app.imaging.findings import inspect_radiograph
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth

SEEDS = (0, 1, 2, 3, 5)
"""Pictures of all kinds but the toothless ridge, half of which these rough pictures make too dark on purpose."""
FAULTS = {
    FindingCode.CONE_CUT,
    FindingCode.TOO_LIGHT,
    FindingCode.TOO_DARK,
    FindingCode.BLURRED,
    FindingCode.BLANK,
    FindingCode.LOW_CONTRAST,
    FindingCode.NOISY,
    FindingCode.NOT_A_RADIOGRAPH,
}

UNTIDY = {
    "as it is": lambda p: p,
    "rounded white corners": faults.round_cornered,
    "rounded black corners": lambda p: faults.round_cornered(p, level=0.0),
    "wide white corners": lambda p: faults.round_cornered(p, 0.2),
    "white frame": lambda p: faults.framed(p, 1.0),
    "black frame": lambda p: faults.framed(p, 0.0),
    "uneven frame": lambda p: faults.framed(p, 1.0, (0.02, 0.1, 0.04, 0.08)),
    "corners and frame": lambda p: faults.framed(faults.round_cornered(p), 1.0),
    "letter box": lambda p: faults.framed(p, 0.0, (0.1, 0.1, 0.0, 0.0)),
    "footer strip": faults.with_footer,
    "corner text": faults.with_label,
    "black block": lambda p: faults.with_block(p, 0.0),
    "white block": lambda p: faults.with_block(p, 1.0),
    "holder": faults.with_bar,
    "clamp": faults.with_clamp,
    "film dot": faults.with_dot,
    "squared": lambda p: faults.resized(p, 450, 450),
    "halved": lambda p: faults.resized(p, p.shape[1] // 2, p.shape[0] // 2),
    "doubled": lambda p: faults.resized(p, p.shape[1] * 2, p.shape[0] * 2),
    "raw 12 bits in 16": faults.raw16,
    "deep and filled": lambda p: (p * 65535).astype(np.uint16),
}


def codes(levels: np.ndarray, form: str = "PNG", **options) -> set[FindingCode]:
    found = inspect_radiograph(as_radiograph(levels, form, **options)).findings
    return {each.code for each in found if each.severity is not Severity.NOTE}


@pytest.mark.parametrize("untidy", UNTIDY)
@pytest.mark.parametrize("seed", SEEDS)
def test_an_untidy_file_of_a_good_picture_is_not_called_faulty(untidy, seed):
    found = codes(UNTIDY[untidy](mouth(seed)))

    assert found & FAULTS == set()


@pytest.mark.parametrize("seed", SEEDS)
def test_blocks_of_strong_compression_are_no_fault(seed):
    assert codes(mouth(seed), "JPEG", quality=40) == set()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_file_stretched_to_clip_both_ends_is_neither_light_nor_dark_nor_cut(seed):
    found = codes(faults.stretched(mouth(seed, noise=0.01)))

    assert (
        found & {FindingCode.CONE_CUT, FindingCode.TOO_LIGHT, FindingCode.TOO_DARK, FindingCode.BLURRED} == set()
    )


@pytest.mark.parametrize("seed", range(4, 40, 6))
def test_a_smooth_ridge_against_open_space_is_no_cone_cut(seed):
    """A toothless jaw bows like an arc and the air beyond it is even; it fades, and lies the other way."""
    assert FindingCode.CONE_CUT not in codes(mouth(seed, kind="ridge"))


@pytest.mark.parametrize("seed", range(4, 40, 6))
def test_a_file_shown_the_other_way_round_has_no_cone_cut_for_that(seed):
    assert FindingCode.CONE_CUT not in codes(1 - mouth(seed, kind="lower"))
