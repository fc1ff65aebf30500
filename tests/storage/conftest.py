"""Both databases: SQLite in a folder, and a real PostgreSQL server."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from app.storage.database import Store
from app.work import accounts
from tests.people import PASSWORD, Practice, hash_lightly
from tests.storage.postgres import Cluster, running_cluster, what_is_missing


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """One PostgreSQL server for all tests that want one."""
    missing = what_is_missing()
    if missing:
        pytest.skip(missing)
    with running_cluster() as running:
        yield running


@pytest.fixture(params=["sqlite", "postgresql"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """A store without tables, on each database."""
    address = None
    if request.param == "postgresql":
        address = request.getfixturevalue("cluster").new_database()
    store = Store(tmp_path / "data", address)
    yield store
    store.close()


@pytest.fixture
def either(empty: Store, monkeypatch: pytest.MonkeyPatch) -> Practice:
    """A practice on each database; one dentist does everything in it."""
    hash_lightly(monkeypatch)
    empty.migrate()
    dentist = accounts.first_start(
        empty, practice_name="Heron Lane", name="Dr Wilna Achterberg", login="wilna", password=PASSWORD
    )
    return Practice(empty, dentist, dentist, dentist, dentist, dentist)
