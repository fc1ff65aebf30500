"""A series is closed: what the audit said then is kept with it."""

from __future__ import annotations

from datetime import datetime

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.exchange.audit_report import audit_report
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.storage.series import SignOff
from app.work.actor import CHAIRSIDE, Actor, require
from app.work.audit_series import audit_of
from app.work.recall_recompute import recompute_recall
from app.work.retakes import orders_of
from app.work.start_series import dentist_of, open_series
from app.work.text import checked_line


def close_series(
    scope: PracticeScope,
    actor: Actor,
    series_id: str,
    *,
    dentist_id: str = "",
    reason: str = "",
    at: datetime | None = None,
) -> SignOff:
    """Close a complete series; one with gaps only with a reason and under a dentist's name.

    Parameters
    ----------
    at : moment of closing; now by default

    Raises
    ------
    InputError
        Names what is missing: images without a slot, the reason, the dentist.
    """
    require(actor, CHAIRSIDE, "close a series")
    row = open_series(scope, series_id)
    audited = audit_of(scope, series_id, Numbering(scope.practice().numbering))
    loose = [each for each in audited.exposures if each.slot is None and each.set_aside_reason is None]
    if loose:
        positions = ", ".join(str(each.position) for each in loose)
        raise InputError(
            "exposures", f"images {positions} have no slot. Give each one, or set it aside, then close"
        )
    complete = audited.audit.verdict == "complete" and bool(audited.audit.asked)
    dentist = dentist_of(scope, dentist_id, "dentist") if dentist_id or not complete else None
    words = checked_line(reason, "reason", empty=complete, longest=500)
    for order in orders_of(scope, series_id):
        order.withdrawn_at = now()
        scope.session.add(order)
    row.status = "closed"
    row.version += 1
    scope.session.add(row)
    signed = scope.add(
        SignOff(
            series_id=series_id,
            verdict=audited.audit.verdict,
            audit=audit_report(audited.audit),
            closed_by=actor.staff_id,
            dentist_id=dentist.id if dentist is not None else None,
            reason=words,
            closed_at=at or now(),
        )
    )
    recompute_recall(scope, row.patient_id, (at or now()).date())
    return signed


def sign_off_of(scope: PracticeScope, series_id: str) -> SignOff | None:
    """What closing the series said, if it is closed."""
    return scope.first(scope.select(SignOff).where(SignOff.series_id == series_id))
