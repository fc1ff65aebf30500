"""The privacy duties as each role tries them, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from app.imaging.decode import ImageLimits
from app.storage.practice_scope import PracticeScope
from app.work import (
    correction_history,
    doubles,
    erasing,
    exposure_details,
    merge_lists,
    merges,
    patient_export,
    retention,
    retention_holds,
)
from app.work.actor import ADMINISTRATORS, CHAIRSIDE, DENTISTS, DESK, TEAM, Actor, Role
from app.work.incoming import TubeSettings
from app.work.patients import register_patient
from tests.people import TODAY

ROOMS = (correction_history, doubles, exposure_details, merge_lists, merges, patient_export)
ROOMS += (erasing, retention, retention_holds)
AGES_AWAY = date(2090, 1, 1)


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


def exported(actor: Actor, on: Any) -> object:
    """All about a patient."""
    return patient_export.everything_about(
        on.practice.store, actor, on.patient, printed=lambda *_: b"", limits=ImageLimits()
    )


def kept(scope: PracticeScope, actor: Actor, patient_id: str) -> str:
    """A hold on a record."""
    return retention_holds.place_retention_hold(
        scope, actor, patient_id, kind="request", note="asked", until_on="", today=TODAY
    ).id


def doomed(scope: PracticeScope, chooser: Actor, actor: Actor) -> str:
    """A record past its term, confirmed to be erased."""
    retention.choose_rule(scope, chooser, key="cautious")
    return erasing.confirm_erasing(scope, actor, double(scope, chooser), AGES_AWAY).id


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
    "everything_about": (DENTISTS, lambda s, a, on: exported(a, on)),
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
    "choose_rule": (DENTISTS, lambda s, a, on: retention.choose_rule(s, a, key="cautious")),
    "records_past_term": (
        DENTISTS | ADMINISTRATORS,
        lambda s, a, on: retention.records_past_term(s, a, AGES_AWAY),
    ),
    "place_retention_hold": (DENTISTS, lambda s, a, on: kept(s, a, on.patient)),
    "lift_retention_hold": (
        DENTISTS,
        lambda s, a, on: retention_holds.lift_retention_hold(s, a, kept(s, on.practice.dentist, on.patient)),
    ),
    "confirm_erasing": (DENTISTS, lambda s, a, on: doomed(s, on.practice.dentist, a)),
    "withdraw_erasing": (
        DENTISTS,
        lambda s, a, on: erasing.withdraw_erasing(s, a, doomed(s, on.practice.dentist, on.practice.dentist)),
    ),
    "carried_out_erasures": (
        DENTISTS | ADMINISTRATORS,
        lambda s, a, on: erasing.carried_out_erasures(s, a),
    ),
    "is_practice_of_one": (frozenset(Role), lambda s, a, on: erasing.is_practice_of_one(s, a)),
}

TRIED_ELSEWHERE = {"carry_out_erasing", "remove_left_files"}
"""Open transactions of their own: tests/work/test_erasing.py tries each role."""

REACHING: dict[str, Callable[[PracticeScope, Any], object]] = {
    "corrections_of_series": lambda s, t: correction_history.corrections_of_series(s, t.stranger, t.series),
    "corrections_of_patient": lambda s, t: correction_history.corrections_of_patient(s, t.stranger, t.patient),
    "place_retention_hold": lambda s, t: kept(s, t.stranger, t.patient),
    "lift_retention_hold": lambda s, t: retention_holds.lift_retention_hold(s, t.stranger, t.hold),
    "confirm_erasing": lambda s, t: erasing.confirm_erasing(s, t.stranger, t.patient, AGES_AWAY),
    "withdraw_erasing": lambda s, t: erasing.withdraw_erasing(s, t.stranger, t.erasure),
    "everything_about": lambda s, t: exported(t.stranger, t),
    "merge_patients": lambda s, t: joined(s, t.stranger, double(s, t.stranger), t.patient),
    "merge_patients, the other way": lambda s, t: joined(s, t.stranger, t.patient, double(s, t.stranger)),
    "undo_merge": lambda s, t: parted(s, t.stranger, t.merge),
    "merge_account": lambda s, t: merge_lists.merge_account(s, t.stranger, t.merge),
    "correct_exposure_details": lambda s, t: redone(s, t.stranger, t.exposure, t.stranger.staff_id),
}
"""The same, asked by the stranger for what belongs to the other practice."""
