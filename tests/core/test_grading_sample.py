"""The draw of a grading sample and the grade of a review."""

from __future__ import annotations

import hashlib
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.quality.grades import grade_of_review
from app.core.quality.sampling import draw_order, pool_digest, proportional_sample, shares, simple_sample

IDS = [f"e{number}" for number in range(200)]


def test_the_same_seed_draws_the_same_whatever_the_order_of_the_pool() -> None:
    assert simple_sample(IDS, 20, "heron") == simple_sample(IDS[::-1], 20, "heron")
    assert simple_sample(IDS, 20, "heron") != simple_sample(IDS, 20, "otter")


def test_the_draw_can_be_repeated_with_a_hash_alone() -> None:
    """What the page tells an inspector to do: SHA-256 of seed, colon, id, in ascending order."""
    by_hand = sorted(IDS, key=lambda each: hashlib.sha256(b"heron:" + each.encode()).hexdigest())

    assert draw_order(IDS, "heron") == by_hand


def test_every_exposure_has_the_same_chance() -> None:
    """600 draws of 20 of 200: each drawn 60 times on average; chi-squared below its 99.9 % point.

    Chi-squared with 199 degrees of freedom: 99.9 % at about 267 (Wilson-Hilferty).
    """
    drawn = Counter(each for seed in range(600) for each in simple_sample(IDS, 20, str(seed)))
    variance = 600 * 0.1 * 0.9

    chi_squared = sum((drawn[each] - 60) ** 2 for each in IDS) / variance

    assert chi_squared < 267
    assert len(drawn) == 200


@given(st.dictionaries(st.text(max_size=3), st.integers(0, 60), min_size=1, max_size=6), st.data())
def test_a_stratum_is_never_further_than_one_from_its_share(counts: dict[str, int], data: st.DataObject) -> None:
    total = sum(counts.values())
    size = data.draw(st.integers(0, total))

    parts = shares(counts, size)

    assert sum(parts.values()) == size
    for stratum, count in counts.items():
        exact = size * count / total if total else 0
        assert abs(parts[stratum] - exact) < 1
        assert 0 <= parts[stratum] <= count


def test_a_stratified_draw_gives_every_operator_their_share_and_no_image_twice() -> None:
    operator_of = {each: "ada" if index < 150 else "bo" for index, each in enumerate(IDS)}

    drawn = proportional_sample(operator_of, 20, "heron")

    assert Counter(operator_of[each] for each in drawn) == {"ada": 15, "bo": 5}
    assert len(set(drawn)) == 20


def test_another_pool_has_another_digest() -> None:
    assert pool_digest(IDS) == pool_digest(IDS[::-1])
    assert pool_digest(IDS) != pool_digest(IDS[1:])


@pytest.mark.parametrize(
    ("faulty", "lost", "two", "three"),
    [(False, False, "A", "1"), (True, False, "A", "2"), (True, True, "N", "3")],
)
def test_the_grade_follows_what_the_image_lost(faulty: bool, lost: bool, two: str, three: str) -> None:
    assert grade_of_review(["A", "N"], faulty=faulty, lost=lost) == two
    assert grade_of_review(["1", "2", "3"], faulty=faulty, lost=lost) == three
