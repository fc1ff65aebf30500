"""Two people had the same form open: what was there, what is there now, and what the second one wants.

A form is a set of fields, each with the values that it would send. Three states of it are compared field by field:
as the person opened it, as it is now, and as they want it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Values = tuple[str, ...]
Fields = Mapping[str, Values]


TICK = "="
"""A box of several under one name is a field of its own, ``name=value``: seen even while nobody has ticked it."""


@dataclass(frozen=True)
class Met:
    """One field of which at least one of the two changed the values.

    Parameters
    ----------
    field : its name
    opened, now, wanted : its values when the form was opened, as they are now, and as the person wants them
    """

    field: str
    opened: Values
    now: Values
    wanted: Values

    @property
    def theirs(self) -> bool:
        """Whether a colleague changed it meanwhile."""
        return self.now != self.opened

    @property
    def yours(self) -> bool:
        """Whether the person changed it."""
        return self.wanted != self.opened

    @property
    def clashes(self) -> bool:
        """Whether both changed it, and differently."""
        return self.theirs and self.yours and self.now != self.wanted


def fields_that_met(opened: Fields, now: Fields, wanted: Fields) -> tuple[Met, ...]:
    """The fields that somebody changed, in the order of the form.

    Parameters
    ----------
    opened : every field that the person saw; what is not among these they did not see, and it is passed over
        (but for boxes that nobody had ticked then)
    now, wanted : a field that is missing here has no value any more
    """
    ticked = [name for name in (*now, *wanted) if TICK in name and name not in opened]
    seen = (*opened, *dict.fromkeys(ticked))
    met = (Met(name, opened.get(name, ()), now.get(name, ()), wanted.get(name, ())) for name in seen)
    return tuple(each for each in met if each.theirs or each.yours)


def is_overtaken(met: tuple[Met, ...]) -> bool:
    """Whether writing what is wanted would undo something that a colleague wrote meanwhile.

    Examples
    --------
    >>> is_overtaken(fields_that_met({"name": ("Ada",)}, {"name": ("Ida",)}, {"name": ("Ida",)}))
    False
    >>> is_overtaken(fields_that_met({"name": ("Ada",)}, {"name": ("Ida",)}, {"name": ("Ada",)}))
    True
    """
    return any(each.theirs and each.now != each.wanted for each in met)


def can_have_both(met: tuple[Met, ...]) -> bool:
    """Whether each of the two changed something, and nothing differently."""
    return any(each.theirs for each in met) and any(each.yours for each in met) and not any(m.clashes for m in met)


def both(met: tuple[Met, ...]) -> dict[str, Values]:
    """What to write so that both changes stand: theirs where the person changed nothing, else the person's."""
    return {each.field: each.wanted if each.yours else each.now for each in met}
