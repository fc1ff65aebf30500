"""Every finding that the program can make is documented, with the thresholds it stands on; so is its accuracy."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from app.core.exposures import ShortfallCode
from app.imaging.finding import FindingCode, Severity, proposal, sure
from app.imaging.findings import inspect_radiograph
from app.imaging.thresholds import reasoned_thresholds
from tests.imaging import faults
from tests.imaging.pictures import as_radiograph, mouth

SHARED = Path(__file__).resolve().parents[2] / "shared" / "findings"
DOCUMENTED = json.loads((SHARED / "findings.json").read_text(encoding="utf-8"))["findings"]
MEASURED = json.loads((SHARED / "accuracy.json").read_text(encoding="utf-8"))


def test_every_code_is_documented_and_no_other():
    assert set(DOCUMENTED) == {each.value for each in FindingCode}


@pytest.mark.parametrize("code", FindingCode)
def test_a_code_says_what_it_means_what_to_do_and_what_it_cannot_see(code):
    entry = DOCUMENTED[code.value]

    assert all(len(entry[part]) > 15 for part in ("meaning", "score", "do", "cannot_see"))
    assert entry["severities"]
    assert {Severity(each) for each in entry["severities"]}


@pytest.mark.parametrize("code", FindingCode)
def test_the_reasons_told_are_those_of_the_thresholds(code):
    told = DOCUMENTED[code.value]["thresholds"]

    assert told == {name: reasoned_thresholds()[name].reason for name in told}


def test_every_threshold_is_told_under_some_finding():
    told = {name for entry in DOCUMENTED.values() for name in entry["thresholds"]}

    assert told == set(reasoned_thresholds())


@pytest.mark.parametrize("code", FindingCode)
def test_a_proposal_is_a_shortfall_a_reviewer_can_record(code):
    offered = proposal(code)

    assert offered is None or ShortfallCode(offered)
    assert code is FindingCode.SATURATED or DOCUMENTED[code.value]["proposes"] == offered


PICTURES = {
    "cut": lambda p: faults.cut(p, 0.2, angle=0.5)[0],
    "blurred": lambda p: faults.blurred(p, 7),
    "dark": lambda p: p * 0.3,
    "light": lambda p: p * 0.4 + 0.6,
    "noisy": lambda p: faults.scattered(p, 0.1),
    "framed": lambda p: faults.framed(p, 1.0),
    "inverted": lambda p: 1 - p,
    "even": lambda p: np.full_like(p, 0.4),
}


@pytest.mark.parametrize("picture", PICTURES)
@pytest.mark.parametrize("seed", [0, 1, 5])
def test_findings_keep_to_their_severities_and_lie_within_the_image(picture, seed):
    levels = PICTURES[picture](mouth(seed))
    height, width = levels.shape
    findings = inspect_radiograph(as_radiograph(levels)).findings

    assert findings
    for each in findings:
        assert each.severity.value in DOCUMENTED[each.code.value]["severities"]
        assert 0.0 <= each.confidence <= 1.0
        assert each.outline is None or all(0 <= x <= width and 0 <= y <= height for x, y in each.outline)
        if each.box is not None:
            x, y, wide, high = each.box
            assert (x >= 0, y >= 0, x + wide <= width, y + high <= height) == (True,) * 4


def test_the_surer_the_further_beyond_the_threshold():
    values = [sure(value, 0.06, 0.11) for value in (0.05, 0.06, 0.08, 0.11, 0.3)]

    assert values == sorted(values)
    assert (values[1], values[3]) == (pytest.approx(0.5), pytest.approx(0.9))


def test_the_measured_accuracy_has_counts_and_intervals_for_each_cause():
    assert MEASURED["codes"]
    for row in MEASURED["codes"]:
        low, high = row["interval"]

        assert row["code"] in DOCUMENTED
        assert 0 <= row["found"] <= row["injected"]
        assert low <= row["sensitivity"] <= high
    for severity in ("fail", "warning"):
        assert MEASURED["false_alarms"][severity]["images"] > 0
