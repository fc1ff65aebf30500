"""The smallest cover: fewest sets that together hold everything, exact, with its proof.

Order of preference: fewest sets, then least total burden, then the first in list order (of two covers, the one
that holds the earliest set in which they differ).

Method: drop what cannot matter (rows that another row implies, sets that another set replaces at no loss in
this order of preference), take what is forced, split into parts that share nothing, and search each part by
branch and bound. Every reduction keeps the preferred cover:

* a set inside another of no greater burden that is cheaper or stands earlier can be exchanged for it, which
  makes the cover cheaper or earlier;
* parts that share nothing have their preferred covers independently, because the earliest difference of two
  unions lies in one part.

Sets are Python integers used as bit masks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

NODE_LIMIT = 20_000
"""Search nodes after which the proof is given up (a real series needs a few; a hostile file could need years)."""


@dataclass(frozen=True)
class Cover:
    """A cover and whether it is proved to be the preferred one.

    Parameters
    ----------
    chosen : indices of the sets taken, ascending
    proved : False only where the search was cut short at ``NODE_LIMIT``; the cover then still covers
    """

    chosen: tuple[int, ...]
    proved: bool


def smallest_cover(sets: Sequence[int], burdens: Sequence[float], *, node_limit: int = NODE_LIMIT) -> Cover:
    """The preferred cover of everything that any set holds.

    Parameters
    ----------
    sets : bit masks
    burdens : cost of each set, > 0; compared exactly as written in decimal (0.1 + 0.2 equals 0.3)
    node_limit : search effort allowed in all

    Examples
    --------
    >>> smallest_cover([0b011, 0b110, 0b101, 0b111], [1, 1, 1, 1]).chosen
    (3,)
    """
    exact = [Fraction(str(burden)) for burden in burdens]
    scale = lcm(*(value.denominator for value in exact)) if exact else 1
    costs = [int(value * scale) for value in exact]
    everything = 0
    for held in sets:
        everything |= held

    forced, columns, rows = _reduce(sets, costs, everything)
    search = _Search(sets, costs, node_limit)
    chosen = list(forced)
    for part_rows, part_columns in _parts(rows, columns, sets):
        chosen.extend(search.preferred(part_rows, part_columns))
    return Cover(tuple(sorted(chosen)), search.nodes_left >= 0)


def _bits(mask: int) -> list[int]:
    found = []
    while mask:
        low = mask & -mask
        found.append(low)
        mask ^= low
    return found


def _reduce(sets: Sequence[int], costs: Sequence[int], everything: int) -> tuple[list[int], list[int], int]:
    """Forced sets, the sets that still matter, and the rows that still matter as a mask."""
    forced: list[int] = []
    columns = [index for index, held in enumerate(sets) if held]
    rows = everything
    while True:
        before = (len(forced), len(columns), rows)
        columns = _without_dominated(columns, sets, costs, rows)
        holders = {bit: [c for c in columns if sets[c] & bit] for bit in _bits(rows)}
        for held_by in holders.values():
            if len(held_by) == 1 and held_by[0] not in forced:
                forced.append(held_by[0])
        for index in forced:
            rows &= ~sets[index]
        columns = [c for c in columns if c not in forced and sets[c] & rows]
        rows = _without_implied({bit: held_by for bit, held_by in holders.items() if bit & rows})
        if (len(forced), len(columns), rows) == before:
            return forced, columns, rows


def _without_dominated(columns: list[int], sets: Sequence[int], costs: Sequence[int], rows: int) -> list[int]:
    kept: list[int] = []
    # Cheapest and earliest first: whatever dominates a set stands before it in this order.
    for index in sorted(columns, key=lambda c: (costs[c], c)):
        held = sets[index] & rows
        if held and not any(held & ~sets[other] == 0 for other in kept):
            kept.append(index)
    return sorted(kept)


def _without_implied(holders: dict[int, list[int]]) -> int:
    """The rows left after dropping each whose holders include all the holders of another."""
    masks = {bit: sum(1 << c for c in held_by) for bit, held_by in holders.items()}
    kept: list[tuple[int, int]] = []
    for bit, mask in sorted(masks.items(), key=lambda item: (item[1].bit_count(), item[0])):
        if not any(other & ~mask == 0 for _, other in kept):
            kept.append((bit, mask))
    return sum(bit for bit, _ in kept)


def _parts(rows: int, columns: list[int], sets: Sequence[int]) -> list[tuple[int, list[int]]]:
    """Split into parts that share neither rows nor sets."""
    parts: list[tuple[int, list[int]]] = []
    left = rows
    while left:
        grown = left & -left
        members: list[int] = []
        changed = True
        while changed:
            changed = False
            for index in columns:
                if index not in members and sets[index] & grown:
                    members.append(index)
                    grown |= sets[index] & rows
                    changed = True
        parts.append((grown, sorted(members)))
        left &= ~grown
    return parts


class _Search:
    """Branch and bound over one part at a time; counts its nodes over all parts."""

    def __init__(self, sets: Sequence[int], costs: Sequence[int], node_limit: int) -> None:
        self._sets = sets
        self._costs = costs
        self.nodes_left = node_limit

    def preferred(self, rows: int, columns: list[int]) -> list[int]:
        best = self._cheapest(rows, columns)
        count, cost = len(best), sum(self._costs[c] for c in best)
        # Fix the earliest set that some cover of that count and cost holds, then the next.
        first: list[int] = []
        for position, index in enumerate(columns):
            if not rows:
                break
            rest = columns[position + 1 :]
            spent = (count - 1, cost - self._costs[index])
            if self._exists(rows & ~self._sets[index], rest, *spent):
                first.append(index)
                rows &= ~self._sets[index]
                count, cost = spent
        return best if self.nodes_left < 0 else first

    def _cheapest(self, rows: int, columns: list[int]) -> list[int]:
        best = self._greedy(rows, columns)
        best_key = (len(best), sum(self._costs[c] for c in best))

        def descend(left: int, allowed: list[int], taken: list[int], cost: int) -> None:
            nonlocal best, best_key
            if not left:
                if (len(taken), cost) < best_key:
                    best, best_key = list(taken), (len(taken), cost)
                return
            self.nodes_left -= 1
            if self.nodes_left < 0:
                return
            bound = self._bound(left, allowed)
            if bound is None:
                return
            more, more_cost, branch = bound
            if len(taken) + more > best_key[0]:
                return
            if len(taken) + more == best_key[0] and cost + more_cost >= best_key[1]:
                return
            tried: set[int] = set()
            for index in branch:
                remaining = [c for c in allowed if c not in tried and c != index]
                descend(left & ~self._sets[index], remaining, [*taken, index], cost + self._costs[index])
                tried.add(index)

        descend(rows, columns, [], 0)
        return best

    def _exists(self, left: int, allowed: list[int], count: int, cost: int) -> bool:
        if count < 0 or cost < 0:
            return False
        if not left:
            return True
        self.nodes_left -= 1
        if self.nodes_left < 0:
            return False
        bound = self._bound(left, allowed)
        if bound is None or bound[0] > count or bound[1] > cost:
            return False
        tried: set[int] = set()
        for index in bound[2]:
            remaining = [c for c in allowed if c not in tried and c != index]
            if self._exists(left & ~self._sets[index], remaining, count - 1, cost - self._costs[index]):
                return True
            tried.add(index)
        return False

    def _bound(self, left: int, allowed: list[int]) -> tuple[int, int, list[int]] | None:
        """Lower bounds for count and cost, and the sets to branch on; None where no cover is left.

        Rows of which no two share a set each need a set of their own.
        """
        holders = [[c for c in allowed if self._sets[c] & bit] for bit in _bits(left)]
        holders.sort(key=len)
        if not holders[0]:
            return None
        used: set[int] = set()
        count = cost = 0
        for held_by in holders:
            if used.isdisjoint(held_by):
                used.update(held_by)
                count += 1
                cost += min(self._costs[c] for c in held_by)
        branch = sorted(holders[0], key=lambda c: -(self._sets[c] & left).bit_count())
        return count, cost, branch

    def _greedy(self, rows: int, columns: list[int]) -> list[int]:
        taken: list[int] = []
        while rows:
            index = max(columns, key=lambda c: ((self._sets[c] & rows).bit_count(), -self._costs[c], -c))
            taken.append(index)
            rows &= ~self._sets[index]
        return taken
