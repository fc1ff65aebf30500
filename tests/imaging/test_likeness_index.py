"""The index finds what a search through everything finds."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.imaging.likeness import hashes_of_all_ways
from app.imaging.likeness_index import RADIUS, LikenessIndex, bands, distance, near_bands, ways_to_ask

HASHES = st.integers(0, 2**64 - 1)


@given(HASHES, st.sets(st.integers(0, 63), max_size=RADIUS))
def test_whatever_differs_within_the_radius_shares_a_near_band(value, flipped):
    """Four bands with three differing bits each would make twelve."""
    other = value
    for bit in flipped:
        other ^= 1 << bit

    assert any(band in near for band, near in zip(bands(other), near_bands(value), strict=True))


@given(HASHES)
def test_a_band_has_137_near_values_the_first_its_own(value):
    for band, near in zip(bands(value), near_bands(value), strict=True):
        assert (len(near), len(set(near)), near[0]) == (137, 137, band)


@given(HASHES)
def test_bands_put_together_are_the_hash(value):
    assert sum(band << (16 * number) for number, band in enumerate(bands(value))) == value


def test_distance_counts_bits_and_takes_a_negative_as_the_same():
    assert distance(0b1011, 0b0001) == 2
    assert distance(0, 2**64 - 1) == 0


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32))
def test_the_index_answers_as_a_search_through_everything(seed):
    rng = random.Random(seed)
    asked = rng.getrandbits(64)
    stored = [rng.getrandbits(64) for _ in range(200)]
    for each in rng.choices(ways_to_ask(asked), k=20):
        for bit in rng.sample(range(64), rng.randint(0, 14)):
            each ^= 1 << bit
        stored.append(each)
    near = {
        number
        for number, value in enumerate(stored)
        if min((way ^ value).bit_count() for way in ways_to_ask(asked)) <= RADIUS
    }

    assert set(LikenessIndex(stored).near(asked)) == near


def test_the_nearest_comes_first():
    asked = 0x0123456789ABCDEF
    turned = hashes_of_all_ways(asked)[3]

    assert LikenessIndex([asked ^ 0b111, turned, asked ^ 0b1]).near(asked) == (1, 2, 0)


def test_a_radius_that_cannot_be_kept_is_refused():
    with pytest.raises(ValueError, match="within 11 bits, not within 12"):
        LikenessIndex([1]).near(1, radius=12)


def test_an_empty_index_finds_nothing():
    assert LikenessIndex([]).near(5) == ()
