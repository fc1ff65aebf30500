"""What is written and not noted: the one table of it, each with its reason.

Everything else that a transaction writes stands in the trail. Whoever adds a table of kept sums puts a line here;
what a person does never belongs here.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Noise:
    """A table that is passed over.

    Parameters
    ----------
    only : where given, only an update that touches nothing but these columns is passed over
    but_not : where given, an update that touches one of these columns is noted all the same
    """

    why: str
    only: frozenset[str] = frozenset()
    but_not: frozenset[str] = frozenset()


NOISE: dict[str, Noise] = {
    "trail_entry": Noise(why="the trail itself"),
    "trail_head": Noise(why="the trail itself; a trigger moves it"),
    "login_session": Noise(why="a sign of life, once a minute", only=frozenset({"last_seen_at"})),
    "half_log_in": Noise(why="a wrong code has its own entry", only=frozenset({"tries"})),
    "machine_person": Noise(why="a wrong PIN has its own entry", only=frozenset({"wrong_pins"})),
    "try_count": Noise(why="counts of failed tries; each failed log-in has its own entry"),
    "quality_mark": Noise(why="marks of triggers that sums are stale"),
    "quality_fact": Noise(why="kept figures, counted anew from the rows"),
    "quality_case": Noise(why="kept figures, counted anew from the rows"),
    "quality_cell": Noise(why="kept sums of those figures"),
    "recall_item": Noise(
        why="recall lines are worked out by the program; that a colleague calls a patient is a deed",
        but_not=frozenset({"claimed_by", "claimed_at"}),
    ),
    "image_measure": Noise(why="measurements and search sketch, worked out from the file at any time"),
}


NOT_SAID = frozenset({"row_version", "touched"})
"""Columns that every change of a versioned row raises beside its own: they say nothing further."""


def is_noise(table: str, operation: str, columns: frozenset[str]) -> bool:
    """Whether a write is passed over.

    Parameters
    ----------
    operation : insert, update or delete
    columns : columns that an update sets
    """
    noise = NOISE.get(table)
    if noise is None:
        return False
    if noise.only:
        return operation == "update" and bool(columns) and columns <= noise.only
    return not (operation == "update" and columns & noise.but_not)
