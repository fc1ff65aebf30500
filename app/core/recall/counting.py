"""What earlier images count for: bitewings for the side they showed, a full series for what it covered.

A series that was cut short, or whose images failed, does not restart a recall; it counts for what it showed.
Bitewings inside a full-mouth series are bitewings. Images brought from elsewhere count with their own date.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.core.dentition import Dentition, asked_targets
from app.core.series import is_distal_to_canine
from app.core.targets import Target, kind, teeth
from app.core.teeth import quadrant

Side = Literal["right", "left"]
SIDES: tuple[Side, ...] = ("right", "left")

SIDE_SHARE = 0.5
"""Share of a side's back contacts that bitewings must show for the side to count (common practice, no source)."""

FULL_SHARE = 0.9
"""Share of its targets that a full-mouth series must show to count as one (common practice, no source)."""


def side_of(target: Target) -> Side:
    """The patient's side on which a back contact lies."""
    return "right" if quadrant(teeth(target)[0]) in (1, 4) else "left"


def back_contacts(targets: Iterable[Target]) -> tuple[Target, ...]:
    """The contacts distal to the canines: what posterior bitewings are for."""
    return tuple(target for target in targets if kind(target) == "contact" and is_distal_to_canine(target))


def sides_needed(dentition: Dentition) -> frozenset[Side]:
    """The sides on which this mouth has a back contact."""
    return frozenset(side_of(target) for target in back_contacts(asked_targets(dentition)))


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What one set of images showed.

    Parameters
    ----------
    on : the day on which they were taken
    sides : sides that count as seen on bitewings
    full : whether it counts as a full-mouth series
    not_seen : back contacts that it was to show on its bitewings and did not
    """

    on: date
    sides: frozenset[Side]
    full: bool
    not_seen: tuple[Target, ...] = ()


def shown_by_series(
    on: date,
    *,
    asked: Sequence[Target],
    covered_by: Mapping[Target, Iterable[str]],
    bitewings: frozenset[str],
    full_mouth: bool,
) -> Shown:
    """What a closed series counts for.

    Parameters
    ----------
    asked : every target it was to show
    covered_by : ids of the exposures that show a target, for each covered one
    bitewings : ids of the exposures in bitewing slots
    full_mouth : whether its template is one of the whole mouth
    """
    contacts = back_contacts(asked)
    seen = {target for target in contacts if bitewings.intersection(covered_by.get(target, ()))}
    sides: set[Side] = set()
    for side in SIDES:
        here = [target for target in contacts if side_of(target) == side]
        if here and sum(target in seen for target in here) >= SIDE_SHARE * len(here):
            sides.add(side)
    covered = sum(target in covered_by for target in asked)
    return Shown(
        on=on,
        sides=frozenset(sides),
        full=full_mouth and bool(asked) and covered >= FULL_SHARE * len(asked),
        not_seen=tuple(target for target in contacts if target not in seen) if bitewings else (),
    )


def shown_elsewhere(on: date, *, full_mouth: bool, sides: str, diagnostic: bool) -> Shown:
    """What images brought from elsewhere count for: nothing where they cannot be read.

    Parameters
    ----------
    sides : ``both``, ``right`` or ``left``: what their bitewings show
    """
    if not diagnostic:
        return Shown(on=on, sides=frozenset(), full=False)
    seen: frozenset[Side] = frozenset(side for side in SIDES if sides in (side, "both"))
    return Shown(on=on, sides=seen, full=full_mouth and seen == frozenset(SIDES))


@dataclass(frozen=True, kw_only=True)
class Counted:
    """The days from which intervals run.

    Parameters
    ----------
    bitewings_on : the day by which every side that has contacts was seen; None where one never was
    sides_on : for each side the day on which it was last seen
    full_on : the last full-mouth series
    newest_on : the last images of any kind that showed something
    not_seen : back contacts that the newest bitewings were to show and did not
    """

    bitewings_on: date | None = None
    sides_on: tuple[tuple[Side, date], ...] = ()
    full_on: date | None = None
    newest_on: date | None = None
    not_seen: tuple[Target, ...] = ()


def count(shown: Iterable[Shown], needed: frozenset[Side]) -> Counted:
    """From which days the intervals run, after all that was ever shown.

    Parameters
    ----------
    needed : the sides that have contacts now
    """
    in_order = sorted(shown, key=lambda each: each.on)
    sides_on: dict[Side, date] = {}
    full_on: date | None = None
    newest_on: date | None = None
    not_seen: tuple[Target, ...] = ()
    for each in in_order:
        sides_on.update(dict.fromkeys(sorted(each.sides), each.on))
        if each.full:
            full_on = each.on
        if each.full or each.sides:
            newest_on = each.on
            not_seen = each.not_seen
    dates = [sides_on.get(side) for side in sorted(needed)]
    known = [day for day in dates if day is not None]
    return Counted(
        bitewings_on=min(known) if known and len(known) == len(dates) else None,
        sides_on=tuple((side, sides_on[side]) for side in SIDES if side in sides_on),
        full_on=full_on,
        newest_on=newest_on,
        not_seen=not_seen,
    )
