"""Which records may be of one person: proposed, and laid side by side."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import col

from app.core.doubles import likely_pairs
from app.core.errors import InputError
from app.storage.patient_keys import patient_keys, rows_pointing
from app.storage.people import Patient
from app.storage.people_on_record import born_alike, on_record
from app.storage.practice_scope import PracticeScope
from app.work.actor import DESK, Actor, require
from app.work.merge_keys import MOVES

MOST_PAIRS = 100


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two records that may be of one person, the older first, and why."""

    one: Patient
    other: Patient
    why: str


def likely_doubles(scope: PracticeScope, actor: Actor) -> list[Pair]:
    """The pairs that the rule of `app.core.doubles` proposes, at most a hundred."""
    require(actor, DESK, "look for double patients")
    groups = born_alike(scope)
    people = {each.id: each for group in groups for each in group}
    pairs = likely_pairs([[(each.id, each.name) for each in group] for group in groups])
    return [Pair(one=people[one], other=people[other], why=why) for one, other, why in pairs[:MOST_PAIRS]]


def patient_with_number(scope: PracticeScope, number: str, path: str) -> Patient:
    """The patient on record with a chart number.

    Raises
    ------
    InputError
        At ``path``: nobody has it.
    """
    found = scope.first(on_record(scope).where(col(Patient.chart_number) == number.strip()))
    if found is None:
        raise InputError(path, f'nobody on record has the chart number "{number.strip()}". Check it in the list')
    return found


def rows_of_patient(scope: PracticeScope, patient_id: str) -> dict[str, int]:
    """How many rows of each kind a merge would move from a patient, by its words; kinds without rows left out."""
    found: dict[str, int] = {}
    for key in patient_keys():
        words = MOVES.get(key)
        count = len(rows_pointing(scope, key, patient_id)) if words else 0
        if words and count:
            found[words] = found.get(words, 0) + count
    return found
