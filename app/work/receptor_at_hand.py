"""Which receptor a series is most likely being taken with: the form proposes it, the person may choose another."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import col

from app.storage.practice import Receptor
from app.storage.practice_scope import PracticeScope
from app.storage.series import ExposureRow, SeriesRow


def receptors_in_use(scope: PracticeScope) -> Sequence[Receptor]:
    """The receptors that are not retired, by name."""
    query = scope.select(Receptor).where(col(Receptor.retired).is_(False))
    return scope.all(query.order_by(Receptor.name))


def receptor_at_hand(scope: PracticeScope, row: SeriesRow, exposures: Sequence[ExposureRow]) -> str:
    """Id of the receptor used last in this series, else in its room; empty where none was named."""
    for each in reversed(exposures):
        if each.receptor_id:
            return each.receptor_id
    if not row.room_id:
        return ""
    query = scope.select(ExposureRow).where(
        ExposureRow.room_id == row.room_id, col(ExposureRow.receptor_id).is_not(None)
    )
    last = scope.first(query.order_by(col(ExposureRow.taken_at).desc()).limit(1))
    return last.receptor_id or "" if last is not None else ""
