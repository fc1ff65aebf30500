"""Files with dark and light exchanged: told, and measured as if they were not."""

from __future__ import annotations

import numpy as np
import pytest

from app.imaging.collimation import find_unexposed
from app.imaging.finding import FindingCode, Severity
from app.imaging.findings import inspect_radiograph
from app.imaging.planes import fields_of
from app.imaging.polarity import exchanged
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth
from tests.imaging.test_untouched import UNTIDY

CLEAR = (0, 1, 3, 5, 7, 9)
"""Pictures with open space along the border, as nearly every radiograph of teeth has."""


def looked_at(levels: np.ndarray):
    return inspect_radiograph(as_radiograph(levels))


def codes(levels: np.ndarray) -> set[FindingCode]:
    return {each.code for each in looked_at(levels).findings}


@pytest.mark.parametrize("seed", CLEAR)
def test_an_inverted_file_is_told_with_a_warning(seed):
    found = [each for each in looked_at(1 - mouth(seed)).findings if each.code is FindingCode.INVERTED]

    assert [each.severity for each in found] == [Severity.WARNING]
    assert "inverted" in found[0].message


@pytest.mark.parametrize("seed", CLEAR)
def test_an_inverted_file_measures_as_the_same_file_the_right_way_round(seed):
    plain, turned = looked_at(mouth(seed)).measurements, looked_at(1 - mouth(seed)).measurements

    for name in ("darkness", "lightness", "contrast", "edge_width", "noise"):
        assert turned[name] == pytest.approx(plain[name], abs=0.01), name


@pytest.mark.parametrize("seed", CLEAR)
def test_an_inverted_file_is_not_called_light_or_dark_instead(seed):
    assert codes(1 - mouth(seed)) == {FindingCode.INVERTED}


@pytest.mark.parametrize("seed", range(36))
def test_a_usual_file_is_not_called_inverted(seed):
    assert FindingCode.INVERTED not in codes(mouth(seed))


@pytest.mark.parametrize("untidy", UNTIDY)
def test_an_untidy_usual_file_is_not_called_inverted(untidy):
    for seed in (0, 3, 5):
        assert FindingCode.INVERTED not in codes(UNTIDY[untidy](mouth(seed))), seed


@pytest.mark.parametrize("seed", range(12))
def test_a_cone_cut_in_a_usual_file_does_not_make_it_inverted(seed):
    picture = faults.cut(mouth(seed), 0.1 + 0.03 * seed, angle=0.5 * seed, radius=1.3)[0]

    assert FindingCode.INVERTED not in codes(picture)


@pytest.mark.parametrize("seed", [1, 7, 13])
def test_a_cone_cut_is_found_in_an_inverted_file(seed):
    found = codes(1 - faults.cut(mouth(seed), 0.2, angle=0.7, radius=1.3)[0])

    assert {FindingCode.INVERTED, FindingCode.CONE_CUT} <= found


@pytest.mark.parametrize("top", [4095, 65535])
@pytest.mark.parametrize("seed", CLEAR)
def test_a_deep_inverted_file_is_told_too(seed, top):
    assert FindingCode.INVERTED in codes(top - faults.raw16(mouth(seed)))


@pytest.mark.parametrize("factor", [0.5, 1.0])
def test_the_vote_changes_its_sign_with_the_greys(factor):
    fields = fields_of((mouth(1) * factor).astype(np.float32))
    turned = fields_of((1 - mouth(1) * factor).astype(np.float32))
    nothing = np.zeros(fields.mean.shape, bool)

    assert find_unexposed(fields, 0.0, 0.025) == []
    assert exchanged(turned, nothing, 0.0) == pytest.approx(-exchanged(fields, nothing, 0.0), abs=0.05)
    assert exchanged(fields, nothing, 0.0) < 0


@pytest.mark.parametrize("factor", [1.5, 1.8, 2.4])
@pytest.mark.parametrize("seed", range(12))
def test_a_file_made_much_too_light_is_not_called_inverted(seed, factor):
    """Burnt-out bone along the border is light and smooth as the open space of an inverted file is."""
    assert FindingCode.INVERTED not in codes(np.clip(mouth(seed) * factor, 0, 1))
