"""A random sample that anybody can draw again from its seed.

The order of the draw is that of the SHA-256 of seed and id: it needs no random generator, so no version of a
language or library changes it, and it can be repeated with any tool that knows SHA-256.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence


def draw_order(ids: Sequence[str], seed: str) -> list[str]:
    """The ids in the order in which they are drawn.

    Parameters
    ----------
    ids : each once; their own order does not matter
    seed : any text; another seed gives another order

    Examples
    --------
    >>> draw_order(["a", "b", "c"], "1") == draw_order(["c", "b", "a"], "1")
    True
    """
    return sorted(ids, key=lambda each: (hashlib.sha256(f"{seed}:{each}".encode()).hexdigest(), each))


def pool_digest(ids: Sequence[str]) -> str:
    """SHA-256 of the ids, sorted, one a line: tells whether the pool of a repeated draw is the same."""
    return hashlib.sha256("\n".join(sorted(ids)).encode()).hexdigest()


def simple_sample(ids: Sequence[str], size: int, seed: str) -> list[str]:
    """``size`` of the ids, every one with the same chance, in the order of the draw."""
    return draw_order(ids, seed)[:size]


def proportional_sample(stratum_of: Mapping[str, str], size: int, seed: str) -> list[str]:
    """A sample in which every stratum has its share of the pool, in the order of the draw.

    Parameters
    ----------
    stratum_of : stratum of each id, such as its operator

    Notes
    -----
    Shares are rounded by largest remainder, ties to the larger stratum and then by name, so the parts add up to
    ``size`` and no stratum is more than one exposure from its exact share (Hamilton's method).
    """
    members: dict[str, list[str]] = {}
    for each, stratum in stratum_of.items():
        members.setdefault(stratum, []).append(each)
    parts = shares({stratum: len(ids) for stratum, ids in members.items()}, size)
    drawn = {each for stratum, ids in members.items() for each in simple_sample(ids, parts[stratum], seed)}
    return [each for each in draw_order(list(stratum_of), seed) if each in drawn]


def shares(counts: Mapping[str, int], size: int) -> dict[str, int]:
    """How many to draw of each stratum.

    Examples
    --------
    >>> shares({"a": 50, "b": 30, "c": 20}, 10)
    {'a': 5, 'b': 3, 'c': 2}
    >>> shares({"a": 2, "b": 1}, 2)
    {'a': 1, 'b': 1}
    """
    total = sum(counts.values())
    if not total:
        return dict.fromkeys(counts, 0)
    parts = {stratum: size * count // total for stratum, count in counts.items()}
    left = size - sum(parts.values())
    by_remainder = sorted(counts, key=lambda each: (-(size * counts[each] % total), -counts[each], each))
    for stratum in by_remainder[:left]:
        parts[stratum] += 1
    return parts
