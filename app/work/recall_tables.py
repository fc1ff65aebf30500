"""The table of intervals that the practice has chosen: a dated copy of a published one, which it may edit."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import col
from sqlmodel.sql.expression import SelectOfScalar

from app.core.recall.guidance import IntervalTable
from app.exchange.recall_guidance import read_table
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallPolicy

NO_TABLE = "none"
"""Chosen where no table is to propose anything: then the dentist decides each time."""


def policy_in_force(scope: PracticeScope) -> RecallPolicy | None:
    """The choice kept last; None where the practice has not chosen yet."""
    return scope.first(_newest_first(scope))


def policies_kept(scope: PracticeScope) -> Sequence[RecallPolicy]:
    """Every choice ever kept, the newest first."""
    return scope.all(_newest_first(scope))


def _newest_first(scope: PracticeScope) -> SelectOfScalar[RecallPolicy]:
    return scope.select(RecallPolicy).order_by(col(RecallPolicy.kept_at).desc(), col(RecallPolicy.id))


def table_of(policy: RecallPolicy | None) -> IntervalTable | None:
    """The table of a choice; None where it is none."""
    return None if policy is None or policy.key == NO_TABLE else read_table(policy.body, "policy")


def table_in_force(scope: PracticeScope) -> IntervalTable | None:
    """The table from which dates are proposed now."""
    return table_of(policy_in_force(scope))
