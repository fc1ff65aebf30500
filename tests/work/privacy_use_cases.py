"""The privacy duties as each role tries them, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from app.storage.practice_scope import PracticeScope
from app.work import correction_history, exposure_details
from app.work.actor import CHAIRSIDE, TEAM, Actor
from app.work.incoming import TubeSettings

ROOMS = (correction_history, exposure_details)


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
}

REACHING: dict[str, Callable[[PracticeScope, Any], object]] = {
    "corrections_of_series": lambda s, t: correction_history.corrections_of_series(s, t.stranger, t.series),
    "corrections_of_patient": lambda s, t: correction_history.corrections_of_patient(s, t.stranger, t.patient),
    "correct_exposure_details": lambda s, t: redone(s, t.stranger, t.exposure, t.stranger.staff_id),
}
"""The same, asked by the stranger for what belongs to the other practice."""
