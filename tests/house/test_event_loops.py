"""Tests in one process do not stand in each other's way."""

from __future__ import annotations

from pathlib import Path

TESTS = Path(__file__).parents[1]


def test_no_test_runs_an_event_loop_in_its_own_thread() -> None:
    """The browser tests leave a loop running in their thread: `asyncio.run` fails in whatever comes after."""
    of_its_own = "asyncio" + ".run("
    found = [str(each.relative_to(TESTS)) for each in TESTS.rglob("test_*.py") if of_its_own in each.read_text()]

    assert found == []
