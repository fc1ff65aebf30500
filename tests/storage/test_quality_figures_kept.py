"""The marks that say which figures are stale come from triggers, written apart for each database."""

from __future__ import annotations

from random import Random

from tests.making import a_series
from tests.people import Practice
from tests.quality_rows import agreeing, random_change


def test_they_agree_on_both_databases(either: Practice) -> None:
    """SQLite and PostgreSQL, whose triggers are written apart."""
    random = Random(11)
    series = a_series(either, "bitewings-4")
    for _ in range(25):
        random_change(either, series, random)

        assert agreeing(either.store, either.dentist.practice_id) == []
