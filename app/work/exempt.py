"""A target that a series need not show: a dentist says so, with a reason; listed ever after, never silent."""

from __future__ import annotations

from app.core.errors import InputError
from app.core.numbering import Numbering
from app.core.targets import label, parse_target
from app.storage.practice_scope import PracticeScope
from app.storage.series import SeriesRow
from app.work.actor import DENTISTS, Actor, require
from app.work.audit_series import audit_of
from app.work.start_series import open_series
from app.work.text import checked_line


def exempt_target(scope: PracticeScope, actor: Actor, series_id: str, *, target: str, reason: str) -> SeriesRow:
    """Take a gap out of what the series must show.

    Raises
    ------
    InputError
        At ``target``: no gap of this series; at ``reason``: none given.
    """
    require(actor, DENTISTS, "say that a series need not show something")
    row = open_series(scope, series_id)
    wanted = parse_target(target, "target")
    if audit_of(scope, series_id).audit.gap(wanted) is None:
        words = label(wanted, Numbering(scope.practice().numbering))
        raise InputError("target", f"{words} is no gap of this series, so it needs no exemption")
    why = f"{checked_line(reason, 'reason')} ({actor.name})"
    row.exempt = [*row.exempt, {"target": wanted, "reason": why}]
    row.version += 1
    scope.changed(row, "exempt")
    return row


def take_exemption_back(scope: PracticeScope, actor: Actor, series_id: str, *, target: str) -> SeriesRow:
    """Ask for the target again."""
    require(actor, DENTISTS, "take an exemption back")
    row = open_series(scope, series_id)
    kept = [each for each in row.exempt if each["target"] != target]
    if len(kept) == len(row.exempt):
        raise InputError("target", "this target is not exempt. Load the page again")
    row.exempt = kept
    row.version += 1
    scope.changed(row, "exempt")
    return row
