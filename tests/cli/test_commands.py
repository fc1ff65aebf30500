"""The command line as another program meets it: a real process, its exit status and its text."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from app.exchange.shared_data import builtin_templates

ROOT = Path(__file__).resolve().parents[2]


def fullcount(*arguments: str, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([sys.executable, "-m", "app", *arguments], input=given, capture_output=True, cwd=ROOT)


def series(**changes: Any) -> bytes:
    exposures = [
        {"id": slot.id, "slot": slot.id, "reviewed": True}
        for slot in builtin_templates()["adult-18"].required_slots
    ]
    whole = {"format": "fullcount-series/1", "template": "adult-18", "exposures": exposures} | changes
    return json.dumps(whole).encode()


def test_a_complete_series_ends_with_0_and_answers_json() -> None:
    done = fullcount("audit", "-", given=series())

    answer = json.loads(done.stdout)
    assert (done.returncode, done.stderr) == (0, b"")
    assert set(answer) == {"format", "verdict", "counts", "coverage", "gaps", "exempt", "retake_plan"}
    assert answer["verdict"] == "complete"
    assert answer["counts"] == {"asked": 118, "covered": 118, "gaps": 0, "exempt": 0}
    assert answer["retake_plan"]["repeat_every_fault_count"] == 0


def test_an_incomplete_series_ends_with_1_and_plans_the_retakes(tmp_path: Path) -> None:
    file = tmp_path / "series.json"
    file.write_bytes(series(exposures=[], numbering="universal"))

    done = fullcount("audit", str(file))

    answer = json.loads(done.stdout)
    assert done.returncode == 1
    assert answer["verdict"] == "incomplete"
    assert answer["gaps"][0] == {
        "target": "crown:18",
        "label": "crown of 1 (upper right)",
        "reason": "not_taken",
        "seen_on": [],
    }
    assert answer["retake_plan"]["count"] == 14
    assert answer["retake_plan"]["proved_minimal"] is True
    assert set(answer["retake_plan"]["exposures"][0]) == {"slot", "closes", "advice"}


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (b"", b"not JSON at line 1"),
        (b'{"format": ', b"not JSON at line 1"),
        (b"\xff\xfe", b"not UTF-8"),
        (b"[" * 200_000, b"nested too deeply"),
        (b'{"format": "x", "format": "y"}', b"stands twice"),
        (b'{"format": NaN}', b"not a JSON number"),
        (series(exposures=[{"id": "e1", "slot": "UR-molr"}]), b'exposures[0].slot: no slot "UR-molr"'),
    ],
)
def test_wrong_input_ends_with_2_and_one_line(given: bytes, words: bytes) -> None:
    done = fullcount("audit", "-", given=given)

    assert done.returncode == 2
    assert done.stdout == b""
    assert words in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert b"Traceback" not in done.stderr


def test_a_missing_file_is_named() -> None:
    done = fullcount("audit", "no-such-file.json")

    assert done.returncode == 2
    assert b"no-such-file.json: cannot be read" in done.stderr


@pytest.mark.parametrize("call", [(), ("adit",), ("audit",), ("template",), ("template", "check")])
def test_a_wrong_call_ends_with_2(call: tuple[str, ...]) -> None:
    done = fullcount(*call)

    assert done.returncode == 2
    assert b"usage" in done.stderr
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    "template_id", ["adult-18", "adult-20", "adult-21-vertical", "edentulous-14", "mixed-12", "primary-8"]
)
def test_a_series_template_covers_its_full_dentition(template_id: str) -> None:
    done = fullcount("template", "check", template_id)

    answer = json.loads(done.stdout)
    assert done.returncode == 0
    assert answer["not_covered"] == []
    assert min(answer["times_covered"].values()) >= 1


def test_checking_a_bitewing_set_names_what_it_does_not_cover() -> None:
    done = fullcount("template", "check", "bitewings-4", "--dentition", "permanent")

    answer = json.loads(done.stdout)
    assert done.returncode == 1
    assert {
        "target": "apex:16:P",
        "label": "apex of 16, palatal root (upper right)",
        "on_supplementary": False,
    } in (answer["not_covered"])


def test_checking_an_unknown_template_names_the_nearest() -> None:
    done = fullcount("template", "check", "adult18")

    assert done.returncode == 2
    assert b'Did you mean "adult-18"?' in done.stderr
