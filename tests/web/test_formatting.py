"""Dates, numbers and addresses as people read them; the examples in the docstrings are run."""

from __future__ import annotations

import doctest
from datetime import date

import pytest

from app.web import formatting, leading


@pytest.mark.parametrize("module", [formatting, leading])
def test_the_examples_hold(module) -> None:
    found = doctest.testmod(module)

    assert found.attempted > 0
    assert found.failed == 0


@pytest.mark.parametrize(
    ("today", "years"),
    [(date(2026, 3, 26), 7), (date(2026, 3, 27), 8), (date(2026, 3, 28), 8), (date(2018, 3, 27), 0)],
)
def test_a_year_is_full_on_the_birthday(today: date, years: int) -> None:
    assert formatting.age_at(date(2018, 3, 27), today) == years
