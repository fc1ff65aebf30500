"""What earlier images count for."""

from __future__ import annotations

from datetime import date

import pytest

from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.recall.counting import (
    SIDES,
    Counted,
    Shown,
    back_contacts,
    count,
    shown_by_series,
    shown_elsewhere,
    side_of,
    sides_needed,
)
from app.core.targets import Target

DAY = date(2026, 1, 31)
EARLIER = date(2024, 6, 1)
ASKED = asked_targets(Dentition())
CONTACTS = back_contacts(ASKED)
BOTH = frozenset(SIDES)


def series(shows: dict[Target, tuple[str, ...]], *, full: bool = False, on: date = DAY) -> Shown:
    """A series whose exposures b1 and b2 are bitewings."""
    return shown_by_series(on, asked=ASKED, covered_by=shows, bitewings=frozenset({"b1", "b2"}), full_mouth=full)


def on_bitewings(side: str) -> dict[Target, tuple[str, ...]]:
    """Every back contact of a side on a bitewing."""
    return {target: ("b1",) for target in CONTACTS if side_of(target) == side}


def test_a_mouth_of_32_teeth_has_ten_back_contacts_a_side() -> None:
    """18-17, 17-16, 16-15, 15-14 and 14-13 above, the same below: ten a side, by counting."""
    assert [sum(side_of(target) == side for target in CONTACTS) for side in SIDES] == [10, 10]


def test_bitewings_in_a_full_series_count_as_bitewings() -> None:
    found = series(on_bitewings("right") | on_bitewings("left"), full=True)

    assert found.sides == BOTH


def test_contacts_shown_on_periapicals_alone_are_not_bitewings() -> None:
    found = series(dict.fromkeys(ASKED, ("p1",)), full=True)

    assert found.sides == frozenset()
    assert found.full


def test_a_series_with_one_side_failed_counts_for_the_other() -> None:
    found = series(on_bitewings("right"))

    assert found.sides == frozenset({"right"})
    assert set(found.not_seen) == set(on_bitewings("left"))


@pytest.mark.parametrize(("seen", "counts"), [(10, True), (5, True), (4, False), (0, False)])
def test_a_side_counts_where_half_of_its_contacts_were_shown(seen: int, counts: bool) -> None:
    right = dict(list(on_bitewings("right").items())[:seen])

    assert ("right" in series(right).sides) is counts


@pytest.mark.parametrize(("share", "counts"), [(1.0, True), (0.9, True), (0.85, False)])
def test_a_full_series_counts_where_nine_tenths_were_shown(share: float, counts: bool) -> None:
    shown = dict.fromkeys(ASKED[: -(-round(share * 1000) * len(ASKED) // 1000)], ("p1",))

    assert series(shown, full=True).full is counts


def test_a_blank_series_counts_for_nothing() -> None:
    found = count([series({}, full=True)], BOTH)

    assert (found.bitewings_on, found.full_on, found.newest_on) == (None, None, None)


@pytest.mark.parametrize(
    ("full", "sides", "diagnostic", "expected"),
    [
        (False, "both", True, (BOTH, False)),
        (False, "right", True, (frozenset({"right"}), False)),
        (True, "both", True, (BOTH, True)),
        (True, "left", True, (frozenset({"left"}), False)),
        (True, "both", False, (frozenset(), False)),
    ],
)
def test_images_from_elsewhere_count_for_what_they_show(
    full: bool, sides: str, diagnostic: bool, expected: tuple[frozenset[str], bool]
) -> None:
    found = shown_elsewhere(DAY, full_mouth=full, sides=sides, diagnostic=diagnostic)

    assert (found.sides, found.full) == expected


def test_the_interval_runs_from_the_side_seen_longest_ago() -> None:
    found = count([series(on_bitewings("right")), Shown(on=EARLIER, sides=BOTH, full=False)], BOTH)

    assert found.bitewings_on == EARLIER
    assert dict(found.sides_on) == {"right": DAY, "left": EARLIER}


def test_a_side_never_seen_leaves_no_day_to_count_from() -> None:
    assert count([series(on_bitewings("right"))], BOTH).bitewings_on is None


def test_a_side_without_contacts_is_not_waited_for() -> None:
    gone = {tooth: ToothState.MISSING for tooth in Dentition().positions() if tooth[0] in "23" and tooth[1] > "3"}
    needed = sides_needed(Dentition(states=gone))

    assert needed == frozenset({"right"})
    assert count([series(on_bitewings("right"))], needed).bitewings_on == DAY


def test_no_images_count_for_nothing() -> None:
    assert count([], BOTH) == Counted()


def test_the_order_in_which_images_are_told_does_not_matter() -> None:
    told = [Shown(on=EARLIER, sides=BOTH, full=True), Shown(on=DAY, sides=BOTH, full=False)]

    assert count(told, BOTH) == count(told[::-1], BOTH)
    assert count(told, BOTH).full_on == EARLIER
