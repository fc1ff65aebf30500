"""Nobody overwrites what a colleague wrote after the form was opened: checked in the transaction that would write.

A form carries what it showed when it was opened, with the versions of the rows it was made from. Where a version
has moved on, the fields are compared; only where a colleague changed something that the person saw, and would now
undo, is the writing refused, with everything that the person needs to choose.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256

from app.core.errors import FullcountError
from app.core.overtaking import Fields, Met, Values, fields_that_met, is_overtaken
from app.storage.practice_scope import PracticeScope
from app.storage.versions import Stamp, Versioned, latest, stamp_of
from app.work.staff_names import staff_names


def _as_text(_name: str, values: Values) -> str:
    return ", ".join(each for each in values if each)


def _as_label(name: str) -> str:
    return name.replace("_", " ").capitalize()


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a form shows of the rows that it is made from.

    Parameters
    ----------
    fields : the values of each field, as the form would send them; a name that begins with ``?`` is only shown
    rows : the rows; their versions say at once whether anything changed
    columns : columns of the rows that a field shows, by the field's name; by default the column of its own name
    stamps : who changed a field last, where no column tells
    boxes : names under which several boxes may be ticked, each a field ``name=value``
    aside : beginnings of the names of fields that the choice leaves out where others say the same
    label, words : what a person calls a field, and its values
    """

    fields: Fields
    rows: Sequence[Versioned] = ()
    columns: Mapping[str, Sequence[str]] = field(default_factory=dict)
    stamps: Mapping[str, Stamp | None] = field(default_factory=dict)
    boxes: Sequence[str] = ()
    aside: tuple[str, ...] = ()
    label: Callable[[str], str] = _as_label
    words: Callable[[str, Values], str] = _as_text

    @property
    def version(self) -> str:
        """Another one after every change of the rows; empty where the form has no rows of its own."""
        counts = [(getattr(row, "id", ""), row.row_version) for row in self.rows]
        return sha256(repr(sorted(counts)).encode()).hexdigest()[:16] if counts else ""

    def stamp(self, name: str) -> Stamp | None:
        """Who changed a field last, and when."""
        if name in self.stamps:
            return self.stamps[name]
        columns = self.columns.get(name, (name,))
        found = latest(stamp_of(row, *columns) for row in self.rows)
        return found or latest(stamp_of(row) for row in self.rows)


@dataclass(frozen=True, kw_only=True)
class Opened:
    """What a form showed when it was opened, and of which version the rows were."""

    version: str
    fields: Fields


@dataclass(frozen=True, kw_only=True)
class Change:
    """One field for the choice: what it is called, its three values in words, and who changed it when."""

    met: Met
    label: str
    opened: str
    now: str
    wanted: str
    by: str
    stamp: Stamp | None


class Overtaken(FullcountError):
    """A colleague changed what this form shows after it was opened; nothing was written.

    Parameters
    ----------
    changes : every field that one of the two changed
    seen : the form as it is now
    """

    def __init__(self, changes: Sequence[Change], seen: Seen) -> None:
        people = sorted({each.by for each in changes if each.met.theirs and each.by})
        super().__init__(
            f"{' and '.join(people) or 'A colleague'} changed this after you opened it, so nothing of yours was "
            "kept yet. Load the page again to see both, then choose"
        )
        self.changes = tuple(changes)
        self.seen = seen


def refuse_overtaken(scope: PracticeScope, opened: Opened | None, now: Seen, wanted: Fields) -> None:
    """Let the writing go on, unless it would undo what a colleague wrote meanwhile.

    Parameters
    ----------
    opened : what the form showed when it was opened; None where it was sent by no form
    now : the same form made from the rows as this transaction reads them
    wanted : the fields as the person wants them

    Raises
    ------
    Overtaken
        With every field that one of the two changed.
    """
    if opened is None or (opened.version and opened.version == now.version):
        return
    met = fields_that_met(opened.fields, now.fields, wanted)
    if not is_overtaken(met):
        return
    people = staff_names(scope)
    changes = []
    for each in met:
        stamp = now.stamp(each.field) if each.theirs else None
        changes.append(
            Change(
                met=each,
                label=now.label(each.field),
                opened=now.words(each.field, each.opened),
                now=now.words(each.field, each.now),
                wanted=now.words(each.field, each.wanted),
                by=people.get(stamp.by, "") if stamp is not None else "",
                stamp=stamp,
            )
        )
    raise Overtaken(changes, now)
