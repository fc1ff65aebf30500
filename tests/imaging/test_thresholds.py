"""Every threshold is data with its reason, and every one is used."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from app.imaging.finding import FindingCode
from app.imaging.findings import inspect_radiograph
from app.imaging.thresholds import reasoned_thresholds, usual_thresholds
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth

IMAGING = Path(__file__).resolve().parents[2] / "app" / "imaging"


@pytest.mark.parametrize("name", reasoned_thresholds())
def test_a_threshold_has_a_unit_a_reason_and_a_grade(name):
    each = reasoned_thresholds()[name]

    assert each.unit
    assert len(each.reason) > 30
    assert each.grade.startswith(("common practice, no source", "computed: "))


@pytest.mark.parametrize("name", reasoned_thresholds())
def test_a_threshold_is_used(name):
    assert any(f'"{name}"' in file.read_text(encoding="utf-8") for file in IMAGING.glob("*.py"))


def test_no_other_threshold_is_asked_for():
    asked = {
        part.split('"]')[0]
        for file in IMAGING.glob("*.py")
        for part in file.read_text(encoding="utf-8").split('limits["')[1:]
    }

    assert asked == set(usual_thresholds())


def test_a_receptor_may_have_its_own():
    noisy = as_radiograph(faults.scattered(mouth(1, noise=0.0), 0.06))
    own = {**usual_thresholds(), "noisy.warning": 0.5, "noisy.fail": 0.9}

    assert FindingCode.NOISY in {each.code for each in inspect_radiograph(noisy).findings}
    assert FindingCode.NOISY not in {each.code for each in inspect_radiograph(noisy, thresholds=own).findings}


@pytest.mark.parametrize("seed", range(6))
def test_findings_come_gravest_first(seed):
    picture = faults.framed(faults.cut(faults.blurred(mouth(seed), 4), 0.2, angle=1.0)[0], 0.0)
    order = ["fail", "warning", "note"]
    found = [order.index(each.severity) for each in inspect_radiograph(as_radiograph(picture)).findings]

    assert len(found) > 1
    assert found == sorted(found)


def test_measuring_does_not_change_the_image():
    read = as_radiograph(mouth(1))
    before = read.grey.copy()
    inspect_radiograph(read)

    assert np.array_equal(read.grey, before)
