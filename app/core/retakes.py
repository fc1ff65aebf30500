"""The retake plan: the fewest exposures that close every gap that can be closed.

Order of preference: fewest exposures, then least total burden, then the first in template order. The plan
counts on nothing from images that nobody has reviewed yet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from app.core.covering import smallest_cover
from app.core.series import Series
from app.core.targets import Target


@dataclass(frozen=True, kw_only=True)
class PlannedRetake:
    """One exposure of the plan.

    Parameters
    ----------
    slot : id of the slot to expose
    closes : every gap that a good exposure there closes (a gap may stand under two)
    advice : what to show and how to correct what lost it
    """

    slot: str
    closes: tuple[Target, ...]
    advice: str = ""


@dataclass(frozen=True, kw_only=True)
class RetakePlan:
    """The fewest retakes, and what repeating view by view would have taken.

    Parameters
    ----------
    exposures : in template order
    burden : total burden of the planned exposures
    proved_minimal : False only where a hostile template exhausted the search
    unclosable : gaps that no slot of the template can show
    repeat_every_fault_count : required slots whose latest exposure has a shortfall, or that have none
    """

    exposures: tuple[PlannedRetake, ...]
    burden: float
    proved_minimal: bool
    unclosable: tuple[Target, ...]
    repeat_every_fault_count: int

    @property
    def count(self) -> int:
        """How many exposures the plan takes."""
        return len(self.exposures)


def smallest_retake_plan(
    series: Series,
    gaps: Sequence[Target],
    promised: Callable[[str], frozenset[Target]],
) -> RetakePlan:
    """Which slots to expose so that every closable gap closes.

    Parameters
    ----------
    gaps : what is asked for and not covered, in the order of the audit
    promised : for a slot's id, the targets of this series that a good image of it shows
    """
    slots = series.template.slots
    row_of = {target: 1 << number for number, target in enumerate(gaps)}
    closable = [sum(row_of[t] for t in promised(slot.id) if t in row_of) for slot in slots]
    cover = smallest_cover(closable, [slot.burden for slot in slots])
    reachable = 0
    for mask in closable:
        reachable |= mask
    return RetakePlan(
        exposures=tuple(
            PlannedRetake(
                slot=slots[index].id,
                closes=tuple(target for target in gaps if closable[index] & row_of[target]),
            )
            for index in cover.chosen
        ),
        burden=float(sum(slots[index].burden for index in cover.chosen)),
        proved_minimal=cover.proved,
        unclosable=tuple(target for target in gaps if not reachable & row_of[target]),
        repeat_every_fault_count=repeat_every_fault_count(series),
    )


def repeat_every_fault_count(series: Series) -> int:
    """How many exposures it would take to repeat every faulty or missing view, one by one."""
    latest = {exposure.slot: exposure for exposure in series.exposures if exposure.slot is not None}
    return sum(1 for slot in series.template.required_slots if slot.id not in latest or latest[slot.id].shortfalls)
