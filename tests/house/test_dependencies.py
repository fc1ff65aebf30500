"""What the program is built on is bounded and comes from the registry; the check in .ci can fail."""

from __future__ import annotations

import runpy
import socket
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def checks() -> dict[str, Any]:
    """What .ci/dependencies defines."""
    return runpy.run_path(str(ROOT / ".ci" / "dependencies"))


def test_every_requirement_has_an_upper_bound(checks: dict[str, Any]) -> None:
    assert checks["unbounded"](tomllib.loads((ROOT / "pyproject.toml").read_text())) == []


def test_a_requirement_without_one_would_be_noticed(checks: dict[str, Any]) -> None:
    project = {"dependencies": ["a>=1", "b==2", "c>=1,<2"], "optional-dependencies": {"test": ["d"]}}
    found = checks["unbounded"]({"project": project, "build-system": {"requires": ["e~=3.1"]}})

    assert found == ["a>=1", "d"]


def test_what_came_from_elsewhere_would_be_noticed(checks: dict[str, Any], tmp_path: Path) -> None:
    from importlib.metadata import PathDistribution

    for name in ("one", "fullcount", "registry"):
        folder = tmp_path / f"{name}-1.dist-info"
        folder.mkdir()
        (folder / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1\n")
        if name != "registry":
            (folder / "direct_url.json").write_text('{"url": "https://elsewhere.example/x"}')
    installed = [PathDistribution(each) for each in sorted(tmp_path.iterdir())]

    assert checks["from_elsewhere"](installed) == ["one 1 from https://elsewhere.example/x"]


def test_that_nothing_could_be_asked_is_said_and_does_not_fail(checks: dict[str, Any]) -> None:
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        checks["audited"].__globals__["ADVISORIES"] = closed.getsockname()
        clean, told = checks["audited"]()

    assert clean
    assert told.startswith("not audited: no route to 127.0.0.1")
