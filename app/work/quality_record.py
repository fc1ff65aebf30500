"""The quality record: notes on the time axis, the grading scheme chosen, and reports signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Any

from sqlmodel import col

from app.core.errors import InputError, did_you_mean
from app.core.quality.targets import GradingScheme
from app.exchange.quality_targets import grading_schemes
from app.storage.columns import now
from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.storage.quality import ChosenScheme, QualityNote, SignedReport
from app.work.actor import CHAIRSIDE, DENTISTS, Actor, require
from app.work.quality_period import Period
from app.work.text import checked_line


@dataclass(frozen=True, kw_only=True)
class Note:
    """A note on the time axis, with who wrote it."""

    id: str
    day: date
    text: str
    by: str


def annotate(scope: PracticeScope, actor: Actor, *, day: str, text: str) -> QualityNote:
    """Write down what happened on a day: a new sensor, a training, a changed setting.

    Parameters
    ----------
    day : written year-month-day

    Raises
    ------
    InputError
        At ``day`` or ``text``.
    """
    require(actor, CHAIRSIDE, "write notes on the quality review")
    return scope.add(
        QualityNote(day=checked_day(day, "day"), text=checked_line(text, "text"), written_by=actor.staff_id)
    )


def withdraw_annotation(scope: PracticeScope, actor: Actor, note_id: str) -> QualityNote:
    """Take a note off the time axis; it stays on record. One's own, or a dentist any."""
    require(actor, CHAIRSIDE, "withdraw notes of the quality review")
    note = scope.get(QualityNote, note_id, "note")
    if note.written_by != actor.staff_id:
        require(actor, DENTISTS, "withdraw a colleague's note")
    note.withdrawn_at = note.withdrawn_at or now()
    scope.session.add(note)
    return note


def annotations_in(scope: PracticeScope, actor: Actor, period: Period | None = None) -> tuple[Note, ...]:
    """The notes of a period, or all of them, the earliest first."""
    require(actor, CHAIRSIDE, "see the quality review")
    query = scope.select(QualityNote).where(col(QualityNote.withdrawn_at).is_(None))
    if period is not None:
        query = query.where(col(QualityNote.day).between(period.first, period.last))
    names = {row.id: row.name for row in scope.all(scope.select(Staff))}
    rows = scope.all(query.order_by(col(QualityNote.day), col(QualityNote.written_at)))
    return tuple(Note(id=row.id, day=row.day, text=row.text, by=names.get(row.written_by, "")) for row in rows)


def checked_day(text: str, path: str) -> date:
    """A day written year-month-day, between 1900 and 2200.

    Raises
    ------
    InputError
        At ``path``.
    """
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(path, f'"{text}" is not a date. Write year, month and day, like 2026-03-27') from error
    if not 1900 <= day.year <= 2200:
        raise InputError(path, f"{day.isoformat()} lies too far away. Check the year")
    return day


def choose_scheme(
    scope: PracticeScope,
    actor: Actor,
    *,
    scheme_id: str,
    from_day: str,
    own_targets: Mapping[str, str] | None = None,
    reason: str = "",
) -> ChosenScheme:
    """Hold the practice to a published scheme from a day on; earlier choices stay in the history.

    Parameters
    ----------
    scheme_id : empty to hold it to none
    own_targets : the practice's own targets in per cent, by `GradeTarget.key`; empty texts keep the published one
    reason : needed with own targets

    Raises
    ------
    InputError
        Names the field.
    """
    require(actor, DENTISTS, "choose the grading scheme")
    schemes = grading_schemes()
    if scheme_id and scheme_id not in schemes:
        raise InputError("scheme_id", "choose a scheme from the list." + did_you_mean(scheme_id, schemes))
    own = {key: _share(text, f"own_targets.{key}") for key, text in (own_targets or {}).items() if text.strip()}
    if own:
        if not scheme_id:
            raise InputError("own_targets", "own targets belong to a scheme. Choose one first")
        published = {target.key: target.share for target in schemes[scheme_id].with_own(own).targets}
        own = {key: share for key, share in own.items() if key in published}
    return scope.add(
        ChosenScheme(
            scheme_id=scheme_id,
            own_targets=own,
            reason=checked_line(reason, "reason", empty=not own),
            from_day=checked_day(from_day, "from_day"),
            chosen_by=actor.staff_id,
        )
    )


def _share(text: str, path: str) -> float:
    try:
        percent = float(text.strip().removesuffix("%").replace(",", "."))
    except ValueError as error:
        raise InputError(path, f'"{text}" is not a number. Write per cent, like 92.5') from error
    if not 0 <= percent <= 100:
        raise InputError(path, f"{text} per cent cannot be. Write 0 to 100")
    return percent / 100


def scheme_in_force(scope: PracticeScope, day: date) -> GradingScheme | None:
    """The scheme that the practice held itself to on a day, with its own targets; None where it chose none."""
    query = scope.select(ChosenScheme).where(ChosenScheme.from_day <= day)
    row = scope.first(query.order_by(col(ChosenScheme.from_day).desc(), col(ChosenScheme.chosen_at).desc()))
    known = None if row is None else grading_schemes().get(row.scheme_id)
    return None if known is None or row is None else known.with_own(row.own_targets)


def scheme_history(scope: PracticeScope, actor: Actor) -> Sequence[ChosenScheme]:
    """Every choice, the latest first."""
    require(actor, CHAIRSIDE, "see the quality review")
    query = scope.select(ChosenScheme)
    return scope.all(query.order_by(col(ChosenScheme.from_day).desc(), col(ChosenScheme.chosen_at).desc()))


def sign_report(
    scope: PracticeScope, actor: Actor, *, period: Period, figures: Mapping[str, Any], pdf: bytes
) -> SignedReport:
    """Keep what a report said, and the digest of its file, under the name of the dentist who signs it.

    Parameters
    ----------
    figures : what the report shows, as JSON
    pdf : the file handed out; only its SHA-256 is kept
    """
    require(actor, DENTISTS, "sign the quality report")
    if not pdf:
        raise InputError("pdf", "the report is empty. Make it again")
    return scope.add(
        SignedReport(
            first=period.first,
            last=period.last,
            figures=dict(figures),
            pdf_sha256=sha256(pdf).hexdigest(),
            signed_by=actor.staff_id,
        )
    )


def signed_reports(scope: PracticeScope, actor: Actor) -> Sequence[SignedReport]:
    """Every signed report, the latest first."""
    require(actor, DENTISTS, "see signed quality reports")
    return scope.all(scope.select(SignedReport).order_by(col(SignedReport.signed_at).desc()))


def signed_report(scope: PracticeScope, actor: Actor, report_id: str) -> SignedReport:
    """One signed report."""
    require(actor, DENTISTS, "see signed quality reports")
    return scope.get(SignedReport, report_id, "signed report")
