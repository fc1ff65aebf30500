"""The privacy duties as each role tries them, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from app.storage.practice_scope import PracticeScope
from app.work import correction_history, doubles, exposure_details, merge_lists, merges
from app.work.actor import CHAIRSIDE, DESK, TEAM, Actor
from app.work.incoming import TubeSettings
from app.work.patients import register_patient
from tests.people import TODAY

ROOMS = (correction_history, doubles, exposure_details, merge_lists, merges)


def otherwise(operator_id: str) -> exposure_details.ExposureDetails:
    """Taken by somebody, at a setting that nobody used."""
    return exposure_details.ExposureDetails(
        operator_id=operator_id,
        receptor_id=None,
        tube=TubeSettings(kv=61.5),
        taken_at=datetime(2026, 3, 1, 9, 30, tzinfo=UTC),
    )


def redone(scope: PracticeScope, actor: Actor, exposure_id: str, operator_id: str) -> object:
    """The details of an exposure corrected."""
    return exposure_details.correct_exposure_details(
        scope, actor, exposure_id, otherwise(operator_id), reason="read off the tube"
    )


def double(scope: PracticeScope, actor: Actor) -> str:
    """A further record of a patient."""
    return register_patient(
        scope, actor, chart_number="T2", name="Ada Stone", birth_date="1984-05-06", today=TODAY
    ).id


def joined(scope: PracticeScope, actor: Actor, kept_id: str, merged_id: str) -> str:
    """Two records made one."""
    words = {"kept_id": kept_id, "merged_id": merged_id}
    return merges.merge_patients(scope, actor, choices={}, reason="one person", today=TODAY, **words).id


def parted(scope: PracticeScope, actor: Actor, merge_id: str) -> object:
    """A merge undone."""
    return merges.undo_merge(scope, actor, merge_id, with_the_other={}, today=TODAY)


USE_CASES: dict[str, tuple[frozenset[Any], Callable[..., object]]] = {
    "corrections_of_patient": (
        TEAM,
        lambda s, a, on: correction_history.corrections_of_patient(s, a, on.patient),
    ),
    "corrections_of_series": (
        CHAIRSIDE,
        lambda s, a, on: correction_history.corrections_of_series(s, a, on.series),
    ),
    "correct_exposure_details": (
        CHAIRSIDE,
        lambda s, a, on: redone(s, a, on.exposure, on.practice.assistant.staff_id),
    ),
    "likely_doubles": (DESK, lambda s, a, on: doubles.likely_doubles(s, a)),
    "merge_patients": (
        DESK,
        lambda s, a, on: joined(s, a, on.patient, double(s, on.practice.dentist)),
    ),
    "undo_merge": (
        DESK,
        lambda s, a, on: parted(s, a, joined(s, on.practice.dentist, on.patient, double(s, on.practice.dentist))),
    ),
    "merges_of_patient": (TEAM, lambda s, a, on: merge_lists.merges_of_patient(s, a, on.patient)),
    "merge_account": (
        DESK,
        lambda s, a, on: merge_lists.merge_account(
            s, a, joined(s, on.practice.dentist, on.patient, double(s, on.practice.dentist))
        ),
    ),
}

REACHING: dict[str, Callable[[PracticeScope, Any], object]] = {
    "corrections_of_series": lambda s, t: correction_history.corrections_of_series(s, t.stranger, t.series),
    "corrections_of_patient": lambda s, t: correction_history.corrections_of_patient(s, t.stranger, t.patient),
    "merge_patients": lambda s, t: joined(s, t.stranger, double(s, t.stranger), t.patient),
    "merge_patients, the other way": lambda s, t: joined(s, t.stranger, t.patient, double(s, t.stranger)),
    "undo_merge": lambda s, t: parted(s, t.stranger, t.merge),
    "merge_account": lambda s, t: merge_lists.merge_account(s, t.stranger, t.merge),
    "correct_exposure_details": lambda s, t: redone(s, t.stranger, t.exposure, t.stranger.staff_id),
}
"""The same, asked by the stranger for what belongs to the other practice."""
