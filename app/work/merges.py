"""Two records of one person made one, and the undo that puts exactly the moved rows back. Nothing is deleted."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from app.core.errors import FullcountError, InputError
from app.storage.columns import now
from app.storage.corrections import CHART_FIELDS, plain
from app.storage.patient_keys import Key, patient_keys, point_to, rows_pointing
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import Erasure, PatientMerge
from app.storage.series import SeriesRow
from app.work.actor import DENTISTS, DESK, Actor, require
from app.work.merge_keys import STAYS
from app.work.patients import folded
from app.work.recall_recompute import recompute_many
from app.work.text import checked_line

CHOSEN_FIELDS = ("name", "birth_date", "phone", "email", "preferred_contact")
"""Fields of which one value is chosen; chart number and dentition chart are chosen beside them."""

CHOICES = (*CHOSEN_FIELDS, "chart_number", "chart")


def merge_patients(
    scope: PracticeScope,
    actor: Actor,
    *,
    kept_id: str,
    merged_id: str,
    choices: Mapping[str, str],
    reason: str,
    today: date,
) -> PatientMerge:
    """Make one record of two: rows go over to the one that stays, the other is kept and leads to it.

    Parameters
    ----------
    choices : for each of `CHOICES` whose value stays: ``kept`` or ``merged``; ``kept`` where nothing is said

    Raises
    ------
    InputError, FullcountError
        The same record twice, no reason, or a record that was merged or is to be erased.
    NotAllowed
        Both have series, and the actor is no dentist.
    """
    require(actor, DESK, "merge double patients")
    if kept_id == merged_id:
        raise InputError("kept", "these are the same record. Choose two different ones")
    kept, merged = scope.get(Patient, kept_id, "patient"), scope.get(Patient, merged_id, "patient")
    _refuse_erasing(scope, kept, merged)
    if _has_series(scope, kept) and _has_series(scope, merged):
        require(actor, DENTISTS, "merge two records that both have series")
    why = checked_line(reason, "reason")
    wrong = next((name for name, value in choices.items() if name not in CHOICES or value not in _SIDES), None)
    if wrong is not None:
        raise InputError(wrong, "choose which of the two values stays")
    row = PatientMerge(kept_id=kept.id, merged_id=merged.id, reason=why, merged_by=actor.staff_id)
    scope.because(f"merged with chart {merged.chart_number}: {why}"[:200])
    row.fields = _choose(scope, kept, merged, choices)
    moved: dict[str, list[str]] = {}
    stood: dict[str, list[str]] = {}
    for key in _moving():
        stood[_name(key)] = rows_pointing(scope, key, kept.id)
        moved[_name(key)] = point_to(
            scope, key, rows_pointing(scope, key, merged.id), away_from=merged.id, to=kept.id
        )
    row.moved, row.stood = moved, stood
    merged.merged_into = kept.id
    scope.session.add_all((kept, merged))
    scope.add(row)
    _after(scope, moved, kept, merged, today)
    return row


_SIDES = ("kept", "merged")


def _moving() -> list[Key]:
    """The columns whose rows go over: all but those that are known to stay."""
    return [key for key in patient_keys() if key not in STAYS]


def _name(key: Key) -> str:
    return f"{key[0]}.{key[1]}"


def key_of(name: str) -> Key:
    """The table and column of a name kept in a merge."""
    table, _, column = name.partition(".")
    return table, column


def _has_series(scope: PracticeScope, patient: Patient) -> bool:
    return scope.first(scope.select(SeriesRow).where(SeriesRow.patient_id == patient.id).limit(1)) is not None


def _refuse_erasing(scope: PracticeScope, *patients: Patient) -> None:
    for each in patients:
        waiting = scope.select(Erasure).where(Erasure.patient_id == each.id)
        if each.erased_at is not None or any(row.withdrawn_at is None for row in scope.all(waiting)):
            raise FullcountError(
                f"chart {each.chart_number} is erased or waits to be. Withdraw the erasing first, then merge"
            )


def _choose(scope: PracticeScope, kept: Patient, merged: Patient, choices: Mapping[str, str]) -> dict[str, Any]:
    """Give the record that stays the chosen values.

    Returns
    -------
    dict
        For each field that became another: what stood there, and what was chosen.
    """
    changed: dict[str, Any] = {}
    fields = [name for name in CHOSEN_FIELDS if choices.get(name) == "merged"]
    if choices.get("chart") == "merged":
        fields += CHART_FIELDS
    for name in fields:
        was, chosen = getattr(kept, name), getattr(merged, name)
        if was != chosen:
            setattr(kept, name, chosen)
            changed[name] = {"was": plain(was), "chosen": plain(chosen)}
    if choices.get("chart_number") == "merged":
        changed["chart_number"] = {"was": kept.chart_number, "chosen": merged.chart_number}
        _exchange_numbers(scope, kept, merged)
    _sought(kept, merged)
    return changed


def _exchange_numbers(scope: PracticeScope, one: Patient, other: Patient) -> None:
    """Both numbers stay in use, so that each still finds the record: they change places."""
    mine, theirs = one.chart_number, other.chart_number
    # Never two alike, also not for a moment. The number in between is no correction: it is put right at once.
    scope.session.flush()
    with scope.uncorrected():
        other.chart_number = f"{other.id} "
        scope.session.add(other)
        scope.session.flush()
    one.chart_number = theirs
    scope.session.add(one)
    scope.session.flush()
    with scope.uncorrected():
        other.chart_number = mine
        scope.session.add(other)
        scope.session.flush()


def _sought(*patients: Patient) -> None:
    for each in patients:
        each.sought_as = folded(f"{each.name} {each.chart_number}")


def _after(
    scope: PracticeScope, moved: Mapping[str, list[str]], kept: Patient, merged: Patient, today: date
) -> None:
    """Who follows a moved series is told, and the recall of both is worked out anew."""
    scope.session.flush()
    for each in list(scope.session.identity_map.values()):
        # Rows were moved by statements that the session has not seen.
        if not isinstance(each, PatientMerge) and each not in (kept, merged):
            scope.session.expire(each)
    for series_id in moved.get("series.patient_id", ()):
        row = scope.find(SeriesRow, series_id)
        if row is not None:
            row.version += 1
            scope.session.add(row)
    recompute_many(scope, [kept.id, merged.id], today)


def undo_merge(
    scope: PracticeScope, actor: Actor, merge_id: str, *, with_the_other: Mapping[str, list[str]], today: date
) -> PatientMerge:
    """Take a merge back: exactly the rows that it moved return, and the values that nobody has changed since.

    Parameters
    ----------
    with_the_other : rows made since (names as in ``moved``) that go with the record that comes back; the others
        stay with the record on which they were made

    Raises
    ------
    FullcountError
        It was undone already, or the staying record was merged or erased since.
    NotAllowed
        Both would have series, and the actor is no dentist.
    """
    require(actor, DESK, "undo merges")
    row = scope.get(PatientMerge, merge_id, "merge")
    if row.undone_at is not None:
        raise FullcountError("this merge was undone already, so there is nothing to undo")
    kept, merged = scope.get(Patient, row.kept_id, "patient"), scope.find(Patient, row.merged_id)
    if merged is None or merged.merged_into != kept.id:
        raise FullcountError("the records were merged further since. Undo the later merge first")
    _refuse_erasing(scope, kept, merged)
    if row.moved.get("series.patient_id") and _has_series(scope, kept):
        require(actor, DENTISTS, "undo a merge of records with series")
    scope.because("a merge was undone")
    back: dict[str, list[str]] = {}
    stays: dict[str, Any] = {}
    since = made_since(scope, row)
    for name, ids in row.moved.items():
        chosen = [each for each in with_the_other.get(name, ()) if each in since.get(name, ())]
        back[name] = point_to(scope, key_of(name), [*ids, *chosen], away_from=kept.id, to=merged.id)
        gone = sorted(set(ids) - set(back[name]))
        if gone:
            stays[name] = gone
    fields = _put_back(scope, kept, merged, row.fields)
    row.stays = stays | ({"fields": fields} if fields else {})
    merged.merged_into = None
    row.undone_by, row.undone_at = actor.staff_id, now()
    scope.session.add_all((row, kept, merged))
    _after(scope, back, kept, merged, today)
    return row


def _put_back(scope: PracticeScope, kept: Patient, merged: Patient, fields: Mapping[str, Any]) -> list[str]:
    """What stood in the fields before; the names of those that somebody has changed since."""
    left = []
    for name, values in fields.items():
        if plain(getattr(kept, name)) != values["chosen"]:
            left.append(name)
        elif name == "chart_number":
            _exchange_numbers(scope, kept, merged)
        else:
            was = values["was"]
            setattr(kept, name, date.fromisoformat(was) if name == "birth_date" else was)
    _sought(kept, merged)
    return left


def made_since(scope: PracticeScope, row: PatientMerge) -> dict[str, list[str]]:
    """The rows made on the staying record since the merge, by table and column."""
    found = {}
    for name, ids in row.moved.items():
        known = {*ids, *row.stood.get(name, ())}
        new = [each for each in rows_pointing(scope, key_of(name), row.kept_id) if each not in known]
        new = [each for each in new if each != row.merged_id]
        if new:
            found[name] = new
    return found
