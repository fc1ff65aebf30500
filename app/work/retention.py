"""Which records are past their term, by the rule that the practice chose, and which a hold keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import col

from app.core.errors import InputError
from app.core.retention import RetentionRule, term_of
from app.exchange.retention_rules import published_rules
from app.storage.last_entries import last_entries
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.privacy import RetentionChoice, RetentionHold
from app.work.actor import ADMINISTRATORS, DENTISTS, Actor, require
from app.work.text import checked_line

OWN = "own"
KEEPERS = DENTISTS | ADMINISTRATORS
"""Who sees that records are past their term; names are for dentists."""

LONGEST = 100
"""Years; more is a slip of the hand."""


@dataclass(frozen=True, kw_only=True)
class PastTerm:
    """A record past its term.

    Parameters
    ----------
    holds : what keeps it all the same
    """

    patient: Patient
    last_on: date
    term_on: date
    why: str
    holds: tuple[RetentionHold, ...]


def rule_in_force(scope: PracticeScope) -> RetentionRule | None:
    """The rule chosen last; None where the practice has chosen none, and nothing is ever past its term."""
    chosen = choices_kept(scope)
    if not chosen:
        return None
    row = chosen[0]
    published = published_rules().get(row.key)
    if published is not None:
        return published
    return RetentionRule(
        key=OWN,
        title=row.title,
        years_after_last=row.years_after_last,
        until_age=row.until_age,
        source=row.reason,
        status="the practice's own",
    )


def choices_kept(scope: PracticeScope) -> Sequence[RetentionChoice]:
    """Every choice ever kept, the newest first."""
    query = scope.select(RetentionChoice)
    return scope.all(query.order_by(col(RetentionChoice.chosen_at).desc(), col(RetentionChoice.id)))


def choose_rule(
    scope: PracticeScope, actor: Actor, *, key: str, years: str = "", until_age: str = "", reason: str = ""
) -> RetentionChoice:
    """Choose a published rule, or write one's own (``own``) with the reason, which names the law it rests on.

    Raises
    ------
    InputError
        Names the field.
    """
    require(actor, DENTISTS, "choose how long records are kept")
    rule = published_rules().get(key)
    if rule is None and key != OWN:
        raise InputError("key", "choose a rule from the list, or write your own")
    if rule is not None:
        row = RetentionChoice(
            key=key, title=rule.title, years_after_last=rule.years_after_last, until_age=rule.until_age,
            reason=checked_line(reason, "reason", empty=True), chosen_by=actor.staff_id,
        )  # fmt: skip
        return scope.add(row)
    after, age = _whole(years, "years", 1), _whole(until_age or "0", "until_age", 0)
    title = f"{after} years after the last entry" + (f"; of minors until the age of {age}" if age else "")
    row = RetentionChoice(
        key=OWN, title=title, years_after_last=after, until_age=age,
        reason=checked_line(reason, "reason"), chosen_by=actor.staff_id,
    )  # fmt: skip
    return scope.add(row)


def _whole(text: str, path: str, least: int) -> int:
    clean = text.strip()
    number = int(clean) if clean.isascii() and clean.isdigit() and len(clean) < 5 else -1
    if not least <= number <= LONGEST:
        raise InputError(path, f'"{text}" is no number of years from {least} to {LONGEST}. Write it in digits')
    return number


def holds_in_force(scope: PracticeScope, today: date, patient_id: str = "") -> Sequence[RetentionHold]:
    """The holds that keep records on a day, the oldest first."""
    query = scope.select(RetentionHold).where(
        col(RetentionHold.lifted_at).is_(None),
        (col(RetentionHold.until_on).is_(None)) | (col(RetentionHold.until_on) >= today),
    )
    if patient_id:
        query = query.where(RetentionHold.patient_id == patient_id)
    return scope.all(query.order_by(col(RetentionHold.placed_at)))


def records_past_term(scope: PracticeScope, actor: Actor, today: date, patient_id: str = "") -> list[PastTerm]:
    """The records past their term on a day, the longest first; none where no rule is chosen.

    Parameters
    ----------
    patient_id : look at this patient's record only
    """
    require(actor, KEEPERS, "see which records are past their term")
    rule = rule_in_force(scope)
    if rule is None:
        return []
    held: dict[str, list[RetentionHold]] = {}
    for hold in holds_in_force(scope, today, patient_id):
        held.setdefault(hold.patient_id, []).append(hold)
    found = []
    for patient, last_on in last_entries(scope, patient_id).values():
        term_on, why = term_of(rule, last_on=last_on, born=patient.birth_date)
        if term_on <= today:
            holds = tuple(held.get(patient.id, ()))
            found.append(PastTerm(patient=patient, last_on=last_on, term_on=term_on, why=why, holds=holds))
    return sorted(found, key=lambda each: (each.term_on, each.patient.id))
