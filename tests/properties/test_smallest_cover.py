"""The retake planner against two independent solvers: every combination tried, and a mixed-integer solver."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import highspy
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.covering import smallest_cover

masks = st.integers(0, 2**9 - 1)
burdens = st.sampled_from([0.1, 0.2, 0.3, 0.7, 1.0, 1.0, 1.0, 1.5, 2.0])
instances = st.lists(st.tuples(masks, burdens), max_size=9)


def by_trying_all(sets: list[int], costs: list[float]) -> tuple[int, ...]:
    """The preferred cover, found by looking at every combination from the smallest up."""
    everything = 0
    for mask in sets:
        everything |= mask
    for count in range(len(sets) + 1):
        found = []
        for chosen in combinations(range(len(sets)), count):
            covered = 0
            for index in chosen:
                covered |= sets[index]
            if covered == everything:
                found.append((sum(Fraction(str(costs[index])) for index in chosen), chosen))
        if found:
            return min(found)[1]
    raise AssertionError("all sets together always cover")


@settings(max_examples=4000, deadline=None)
@given(instances)
def test_the_cover_is_the_preferred_one(instance: list[tuple[int, float]]) -> None:
    """Count, then burden, then list order: the same cover as trying all, proved."""
    sets, costs = [mask for mask, _ in instance], [cost for _, cost in instance]

    cover = smallest_cover(sets, costs)

    assert cover.chosen == by_trying_all(sets, costs)
    assert cover.proved


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 2**30 - 1), min_size=10, max_size=24))
def test_the_count_agrees_with_a_mixed_integer_solver(sets: list[int]) -> None:
    """HiGHS (a general solver from the registry) finds no smaller cover on larger instances."""
    sparse = [mask & (mask >> 3) & (mask >> 7) or mask & -mask for mask in sets]

    cover = smallest_cover(sparse, [1.0] * len(sparse))

    assert cover.proved
    assert len(cover.chosen) == optimum_by_highs(sparse)


def optimum_by_highs(sets: list[int]) -> int:
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    variables = [solver.addBinary(obj=1.0) for _ in sets]
    everything = 0
    for mask in sets:
        everything |= mask
    for bit in range(everything.bit_length()):
        holders = [variables[i] for i, mask in enumerate(sets) if mask >> bit & 1]
        if holders:
            solver.addConstr(sum(holders[1:], holders[0]) >= 1)
    solver.minimize()
    return round(solver.getObjectiveValue())


def test_a_search_cut_short_says_so_and_still_covers() -> None:
    """Without room to search, the answer covers everything and does not claim to be proved."""
    sets = [(0b1011 << shift | 1 << (shift * 7 + 3) % 13) & 0x1FFF for shift in range(13)]

    cover = smallest_cover(sets, [1.0] * len(sets), node_limit=1)

    covered = 0
    for index in cover.chosen:
        covered |= sets[index]
    assert covered == (1 << max(mask.bit_length() for mask in sets)) - 1
    assert not cover.proved
