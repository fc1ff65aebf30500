"""Fixtures that several rooms share."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.people import Practice, founded, hash_lightly

# The name under which the browser of the tests reaches every application, as a practice names its own.
os.environ.setdefault("FULLCOUNT_HOSTS", "fullcount.test")


@pytest.fixture
def practice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Practice]:
    """A practice in a folder of its own."""
    hash_lightly(monkeypatch)
    made = founded(tmp_path / "data")
    yield made
    made.store.close()
