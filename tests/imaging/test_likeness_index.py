"""The search looks through everything, and asks for what a copy may look like."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.imaging.likeness import hashes_of_all_ways, laid, sketch_of
from app.imaging.likeness_index import (
    COARSE_ENOUGH,
    RADIUS,
    Asked,
    asked_of,
    coarse_bytes,
    distance,
    ways_to_ask,
)
from tests.imaging.pictures import as_radiograph, mouth


def asking(*hashes: int) -> Asked:
    return Asked(hashes=np.array(hashes, np.uint64), coarse=np.zeros((1, 256), np.float32))


def cut(picture, left, top, right, bottom):
    rows, columns = picture.shape
    return picture[
        round(top * rows) : rows - round(bottom * rows), round(left * columns) : columns - round(right * columns)
    ]


CUTS = {
    "a twentieth at the left": (0.05, 0, 0, 0),
    "a tenth above": (0, 0.1, 0, 0),
    "a corner": (0.05, 0.05, 0, 0),
    "2.5 % all round": (0.025, 0.025, 0.025, 0.025),
    "a twentieth all round": (0.05, 0.05, 0.05, 0.05),
}


def test_distance_counts_bits_and_takes_a_negative_as_the_same():
    assert distance(0b1011, 0b0001) == 2
    assert distance(0, 2**64 - 1) == 0


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32))
def test_the_search_answers_as_one_comparison_after_another(seed):
    rng = random.Random(seed)
    hashes = ways_to_ask(rng.getrandbits(64))
    stored = [rng.getrandbits(64) for _ in range(200)]
    for each in rng.choices(hashes, k=20):
        for bit in rng.sample(range(64), rng.randint(0, 14)):
            each ^= 1 << bit
        stored.append(each)
    near = {n for n, value in enumerate(stored) if min((way ^ value).bit_count() for way in hashes) <= RADIUS}

    assert set(asking(*hashes).near(np.array(stored, np.uint64)).tolist()) == near


def test_the_nearest_comes_first():
    asked = 0x0123456789ABCDEF
    turned = hashes_of_all_ways(asked)[3]
    stored = np.array([asked ^ 0b111, turned, asked ^ 0b1], np.uint64)

    assert asking(*ways_to_ask(asked)).near(stored).tolist() == [1, 2, 0]


def test_among_none_there_is_none():
    assert asking(5).near(np.zeros(0, np.uint64)).tolist() == []
    assert asking(5).agreement([]).tolist() == []


@pytest.mark.parametrize("way", [0, 5])
@pytest.mark.parametrize("name", CUTS)
@pytest.mark.parametrize("seed", [0, 2, 3])
def test_a_cut_copy_and_its_original_are_within_reach_of_one_another(seed, name, way):
    whole = sketch_of(as_radiograph(mouth(seed)))
    part = sketch_of(as_radiograph(np.ascontiguousarray(laid(cut(mouth(seed), *CUTS[name]), way))))
    for one, other in ((whole, part), (part, whole)):
        asked = asked_of(one)

        assert asked.distances(np.array([other.hash], np.uint64))[0] <= RADIUS
        assert asked.agreement([coarse_bytes(other)])[0] >= COARSE_ENOUGH
