"""Series at the stages that the chairside tests begin from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from app.storage.series import SeriesRow
from app.work.audit_series import frozen_template
from app.work.close import close_series
from app.work.review import review_exposure
from tests.making import a_series, loaded
from tests.people import Practice


def full_series(practice: Practice, *, leave_out: Sequence[str] = ()) -> tuple[SeriesRow, dict[str, str]]:
    """An adult series with an image in every slot, none reviewed: exposure ids by slot."""
    series = a_series(practice)
    ids: dict[str, str] = {}
    for number, slot in enumerate(frozen_template(series).required_slots, start=1):
        if slot.id not in leave_out:
            upright = slot.receptor is not None and slot.receptor.orientation == "portrait"
            ids[slot.id] = loaded(practice, series, number, slot=slot.id, upright=upright).id
    return series, ids


def review_all(
    practice: Practice, ids: Mapping[str, str], faults: Mapping[str, list[dict[str, Any]]] | None = None
) -> None:
    """Every image reviewed: good, but for the faults named by slot."""
    with practice.store.writing(practice.assistant.practice_id) as scope:
        for slot, exposure in ids.items():
            review_exposure(scope, practice.assistant, exposure, shortfalls=(faults or {}).get(slot, ()))


FAULTS: dict[str, list[dict[str, Any]]] = {
    "UR-molar": [{"code": "apex_cut_off"}],
    "LL-canine": [{"code": "blurred"}],
    "UL-premolar": [{"code": "overlap"}],
}
"""Three faults, of which the last is made up for by neighbours."""


def faulty_series(practice: Practice) -> tuple[SeriesRow, dict[str, str]]:
    """Reviewed, with the three faults."""
    series, ids = full_series(practice)
    review_all(practice, ids, FAULTS)
    return series, ids


def closed_series(practice: Practice) -> SeriesRow:
    """Complete and closed."""
    series, ids = full_series(practice)
    review_all(practice, ids)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        close_series(scope, practice.assistant, series.id)
    return series
