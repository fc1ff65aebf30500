"""The two jaws behind the teeth: bone to beyond the deepest root, and a gum line that rises between the crowns."""

from __future__ import annotations

from app.core.dentition import ToothState
from app.core.teeth import arch
from app.web.chart_drawing.arrangement import Arrangement, Stand
from app.web.chart_drawing.outline import Bow, written

_PAPILLA = 41.0
"""How deep the gum's tip lies between two crowns: just under the contact's spindle."""

_OVERHANG = 30.0


def jaw_outlines(where: Arrangement, deep: float) -> tuple[str, ...]:
    """Upper and lower jaw.

    Parameters
    ----------
    deep : how far beyond the biting edge the bone reaches
    """
    return tuple(_jaw(where, name, bow, deep) for name, bow in where.bows.items())


def _jaw(where: Arrangement, name: str, bow: Bow, deep: float) -> str:
    row = [
        stand
        for stand in where.stands.values()
        if arch(stand.tooth) == name and (not stand.in_bone or stand.lift < _PAPILLA * where.scale)
    ]
    row.sort(key=lambda stand: stand.left)

    def at(along: float, depth: float) -> str:
        return written(*bow.frame(along, 1).point(0.0, depth))

    papilla = _PAPILLA * where.scale
    if not row:
        row_left, row_right = -where.reach, where.reach
    else:
        row_left, row_right = row[0].left, row[-1].right
    left, right = row_left - _OVERHANG, row_right + _OVERHANG
    steps = [f"M{at(left, papilla + 26)}Q{at(left + 6, papilla + 2)} {at(row_left - 8, papilla)}"]
    for index, stand in enumerate(row):
        end = row[index + 1].left if index + 1 < len(row) else stand.right + 16
        steps.append(f"Q{at(stand.left, _gum(stand))} {at((stand.left + stand.right) / 2, _gum(stand))}")
        steps.append(f"Q{at(stand.right, _gum(stand))} {at((stand.right + end) / 2, papilla)}")
    outer = round(bow.radius + deep)
    turn = 0 if bow.upper else 1
    steps.append(
        f"Q{at(right - 6, papilla + 2)} {at(right, papilla + 26)}"
        f"C{at(right + 10, deep * 0.6)} {at(right, deep * 0.98)} {at(right - 60, deep)}"
        f"A{outer} {outer} 0 0 {turn} {at(left + 60, deep)}"
        f"C{at(left, deep * 0.98)} {at(left - 10, deep * 0.6)} {at(left, papilla + 26)}Z"
    )
    return "".join(steps)


def _gum(stand: Stand) -> float:
    """Where the gum lies over the middle of a column."""
    if stand.state in (ToothState.MISSING, ToothState.UNERUPTED):
        return stand.build.height * 0.66
    return stand.build.height * 1.02
