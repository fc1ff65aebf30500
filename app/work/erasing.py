"""Erasing a record past its term: a dentist confirms, somebody else who administers the program carries it out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlmodel import col

from app.core.errors import FullcountError, InputError
from app.storage.columns import now
from app.storage.database import Store
from app.storage.erasing import drop_old_pages, erase_rows
from app.storage.patient_rows import records_of
from app.storage.people import Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import Erasure
from app.storage.series import ImageRow, SeriesRow
from app.work.actor import ADMINISTRATORS, DENTISTS, Actor, NotAllowed, Role, require
from app.work.retention import KEEPERS, PastTerm, records_past_term, rule_in_force


def confirm_erasing(scope: PracticeScope, actor: Actor, patient_id: str, today: date) -> Erasure:
    """A dentist's word that a record past its term may be erased; nothing is erased yet.

    Raises
    ------
    FullcountError
        It is not past its term, a hold keeps it, a series is open, or it is confirmed already.
    """
    require(actor, DENTISTS, "confirm that a record is erased")
    patient = scope.get(Patient, patient_id, "patient")
    past = _erasable(scope, actor, patient.id, today)
    if any(each.patient_id == patient.id for each in waiting_erasures(scope)):
        raise FullcountError("this is confirmed already, and waits for somebody who administers the program")
    rule = rule_in_force(scope)
    assert rule is not None
    return scope.add(
        Erasure(
            patient_id=patient.id,
            rule=f"{rule.title} ({rule.status if rule.body in ('', 'none') else rule.body})"
            + ("" if past.why == rule.title else f": {past.why}"),
            last_on=past.last_on,
            term_on=past.term_on,
            confirmed_by=actor.staff_id,
        )
    )


def _erasable(scope: PracticeScope, actor: Actor, patient_id: str, today: date) -> PastTerm:
    found = records_past_term(scope, actor, today, patient_id)
    if not found:
        raise FullcountError("this record is not past its term by the rule in force, so it stays")
    if found[0].holds:
        raise FullcountError("a hold keeps this record. Lift the hold first, if its reason has ended")
    query = scope.select(SeriesRow).where(SeriesRow.patient_id == patient_id, SeriesRow.status == "open")
    if scope.first(query.limit(1)) is not None:
        raise FullcountError("a series of this record is open. Close it first")
    return found[0]


def withdraw_erasing(scope: PracticeScope, actor: Actor, erasure_id: str) -> Erasure:
    """Take a confirmation back, while nothing is erased."""
    require(actor, DENTISTS, "withdraw an erasing")
    row = _waiting(scope, erasure_id)
    row.withdrawn_by, row.withdrawn_at = actor.staff_id, now()
    scope.session.add(row)
    return row


def _waiting(scope: PracticeScope, erasure_id: str) -> Erasure:
    row = scope.get(Erasure, erasure_id, "erasing")
    if row.withdrawn_at is not None or row.carried_out_at is not None:
        raise FullcountError("this erasing is carried out or withdrawn already")
    return row


def waiting_erasures(scope: PracticeScope) -> Sequence[Erasure]:
    """Confirmed and not yet carried out, the oldest first."""
    query = scope.select(Erasure).where(col(Erasure.withdrawn_at).is_(None), col(Erasure.carried_out_at).is_(None))
    return scope.all(query.order_by(col(Erasure.confirmed_at)))


def carried_out_erasures(scope: PracticeScope, actor: Actor) -> Sequence[Erasure]:
    """What was erased, the newest first."""
    require(actor, KEEPERS, "see what was erased")
    query = scope.select(Erasure).where(col(Erasure.carried_out_at).is_not(None))
    return scope.all(query.order_by(col(Erasure.carried_out_at).desc()))


def is_practice_of_one(scope: PracticeScope, actor: Actor) -> bool:
    """Whether nobody else could confirm or carry out an erasing: no other dentist, no other administrator."""
    people = scope.all(scope.select(Staff).where(col(Staff.retired).is_(False)))
    able = [each for each in people if each.role in (Role.DENTIST, Role.ADMINISTRATOR) or each.administers]
    return all(each.id == actor.staff_id for each in able)


def carry_out_erasing(
    store: Store, actor: Actor, erasure_id: str, *, chart_number: str = "", today: date
) -> Erasure:
    """Erase what a dentist confirmed; the files go after the transaction, never before.

    Opens its own transactions. A crash in between leaves files that the entry still names:
    `remove_left_files` takes them away.

    Parameters
    ----------
    chart_number : typed by a person who confirmed it too, in a practice where nobody else can

    Raises
    ------
    NotAllowed
        No administrator, or the one who confirmed it although somebody else could carry it out.
    FullcountError
        A hold or a new entry has come since; or it is carried out or withdrawn already.
    """
    require(actor, ADMINISTRATORS, "carry out an erasing")
    with store.writing(actor.practice_id) as scope:
        row = _waiting(scope, erasure_id)
        patient = scope.get(Patient, row.patient_id, "patient")
        if row.confirmed_by == actor.staff_id:
            _alone(scope, actor, patient, chart_number)
        past = _erasable(scope, actor, patient.id, today)
        row.last_on, row.term_on = past.last_on, past.term_on
        row.carried_out_by, row.carried_out_at = actor.staff_id, now()
        scope.session.add(row)
        for other in records_of(scope, patient.id)[1:]:
            # Each record that was merged into it has its own entry, by which its corrections yield.
            scope.add(_entry_like(row, other))
        scope.session.flush()
        counts, files = erase_rows(scope, patient.id)
        row.counts, row.files_left = counts, files
        scope.session.add(row)
    remove_left_files(store, actor)
    drop_old_pages(store.engine)
    return row


def _alone(scope: PracticeScope, actor: Actor, patient: Patient, chart_number: str) -> None:
    if not is_practice_of_one(scope, actor):
        raise NotAllowed("You confirmed this erasing: a second person who administers the program carries it out.")
    if chart_number.strip() != patient.chart_number:
        raise InputError("chart_number", "type the chart number of the record, to be sure that it is this one")


def _entry_like(row: Erasure, patient_id: str) -> Erasure:
    return Erasure(
        patient_id=patient_id,
        rule=row.rule,
        last_on=row.last_on,
        term_on=row.term_on,
        confirmed_by=row.confirmed_by,
        confirmed_at=row.confirmed_at,
        carried_out_by=row.carried_out_by,
        carried_out_at=row.carried_out_at,
    )


def left_files(scope: PracticeScope) -> int:
    """How many files of erased records still lie in the folder, because something came in between."""
    return sum(len(each.files_left) for each in scope.all(scope.select(Erasure)))


def remove_left_files(store: Store, actor: Actor) -> int:
    """Take away the files that erasings left; a file that any record names again stays.

    Returns
    -------
    int
        Files that could not be removed, and are still named by their erasing.
    """
    require(actor, ADMINISTRATORS, "remove the files of erased records")
    left = 0
    with store.writing(actor.practice_id) as scope:
        for row in scope.all(scope.select(Erasure).where(col(Erasure.carried_out_at).is_not(None))):
            if not row.files_left:
                continue
            still = [sha for sha in row.files_left if not _removed(store, scope, sha)]
            left += len(still)
            row.files_left = still
            scope.session.add(row)
    return left


def _removed(store: Store, scope: PracticeScope, sha256: str) -> bool:
    if scope.is_taken_anywhere(ImageRow, "sha256", sha256):
        return True
    try:
        store.images.remove(sha256)
    except OSError:
        return False
    return True
