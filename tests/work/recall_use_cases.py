"""The recall's use cases as each role tries them, and as another practice does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from app.storage.practice_scope import PracticeScope
from app.work import (
    recall_bookings,
    recall_claims,
    recall_contacts,
    recall_facts,
    recall_history,
    recall_holds,
    recall_outside,
    recall_policies,
    recall_prescriptions,
    recall_recompute,
    recall_warnings,
)
from app.work.actor import DENTISTS, TEAM, Actor
from tests.people import TODAY

ROOMS = (recall_bookings, recall_claims, recall_contacts, recall_holds, recall_outside, recall_policies)
ROOMS += (recall_prescriptions,)
DAY = date(2026, 9, 1)


def prescribed(scope: PracticeScope, actor: Actor, patient_id: str) -> str:
    """Bitewings every 12 months."""
    words = {"kind": "bitewings", "interval_months": "12", "reason": "lesions", "ends_on": "2028-01-01"}
    return recall_prescriptions.prescribe_recall(scope, actor, patient_id, today=TODAY, **words).id


def brought(scope: PracticeScope, actor: Actor, patient_id: str) -> str:
    """Bitewings from elsewhere."""
    return recall_outside.record_outside_images(
        scope, actor, patient_id, kind="bitewings", taken_on="2025-02-03", today=TODAY
    ).id


def held(scope: PracticeScope, actor: Actor, patient_id: str, kind: str = "declined") -> str:
    """A hold."""
    return recall_holds.place_hold(scope, actor, patient_id, kind=kind, note="as said", today=TODAY).id


def assessed(scope: PracticeScope, actor: Actor, patient_id: str) -> str:
    """A low risk."""
    return recall_prescriptions.assess_risk(
        scope, actor, patient_id, level="low", assessed_on="2026-03-01", today=TODAY
    ).id


def USE_CASES(doctor_of: Callable[[Any], Actor]) -> dict[str, tuple[frozenset[Any], Callable[..., object]]]:
    """What each role may, and the doing."""
    d = doctor_of
    return {
        "prescribe_recall": (DENTISTS, lambda s, a, on: prescribed(s, a, on.patient)),
        "withdraw_prescription": (
            DENTISTS,
            lambda s, a, on: recall_prescriptions.withdraw_prescription(
                s, a, prescribed(s, d(on), on.patient), TODAY
            ),
        ),
        "assess_risk": (DENTISTS, lambda s, a, on: assessed(s, a, on.patient)),
        "choose_policy": (
            DENTISTS,
            lambda s, a, on: recall_policies.choose_policy(s, a, "fgdp_uk_3", today=TODAY),
        ),
        "place_hold": (TEAM, lambda s, a, on: held(s, a, on.patient)),
        "place_hold, a dentist's": (DENTISTS, lambda s, a, on: held(s, a, on.patient, "dentist")),
        "lift_hold": (
            TEAM,
            lambda s, a, on: recall_holds.lift_hold(s, a, held(s, d(on), on.patient), TODAY),
        ),
        "lift_hold, a dentist's": (
            DENTISTS,
            lambda s, a, on: recall_holds.lift_hold(s, a, held(s, d(on), on.patient, "dentist"), TODAY),
        ),
        "lift_hold, what is left to the dentist": (
            DENTISTS,
            lambda s, a, on: recall_holds.lift_hold(s, a, held(s, d(on), on.patient, "pregnancy"), TODAY),
        ),
        "record_outside_images": (TEAM, lambda s, a, on: brought(s, a, on.patient)),
        "withdraw_outside_images": (
            TEAM,
            lambda s, a, on: recall_outside.withdraw_outside_images(s, a, brought(s, d(on), on.patient), TODAY),
        ),
        "claim": (TEAM, lambda s, a, on: recall_claims.claim(s, a, on.patient)),
        "release": (TEAM, lambda s, a, on: recall_claims.release(s, a, on.patient)),
        "note_contact": (
            TEAM,
            lambda s, a, on: recall_contacts.note_contact(s, a, on.patient, outcome="message", today=TODAY),
        ),
        "note_booked": (
            TEAM,
            lambda s, a, on: recall_bookings.note_booked(s, a, on.patient, "a1", DAY, TODAY),
        ),
        "note_unbooked": (
            TEAM,
            lambda s, a, on: recall_bookings.note_unbooked(s, a, on.patient, "a1", TODAY),
        ),
    }


REACHING: dict[str, Callable[[PracticeScope, Any], object]] = {
    "prescribe_recall": lambda s, t: prescribed(s, t.stranger, t.patient),
    "assess_risk": lambda s, t: assessed(s, t.stranger, t.patient),
    "place_hold": lambda s, t: held(s, t.stranger, t.patient),
    "record_outside_images": lambda s, t: brought(s, t.stranger, t.patient),
    "withdraw_prescription": lambda s, t: recall_prescriptions.withdraw_prescription(
        s, t.stranger, t.prescription, TODAY
    ),
    "lift_hold": lambda s, t: recall_holds.lift_hold(s, t.stranger, t.hold, TODAY),
    "withdraw_outside_images": lambda s, t: recall_outside.withdraw_outside_images(
        s, t.stranger, t.outside, TODAY
    ),
    "claim": lambda s, t: recall_claims.claim(s, t.stranger, t.patient),
    "release": lambda s, t: recall_claims.release(s, t.stranger, t.patient),
    "note_contact": lambda s, t: recall_contacts.note_contact(
        s, t.stranger, t.patient, outcome="message", today=TODAY
    ),
    "note_booked": lambda s, t: recall_bookings.note_booked(s, t.stranger, t.patient, "a1", DAY, TODAY),
    "note_unbooked": lambda s, t: recall_bookings.note_unbooked(s, t.stranger, t.patient, "a1", TODAY),
    "booking_warnings": lambda s, t: recall_warnings.booking_warnings(s, t.patient, DAY, TODAY),
    "history_of": lambda s, t: recall_history.history_of(s, t.patient),
}
"""The same, asked by the stranger for what belongs to the other practice."""


def nothing_found(scope: PracticeScope, patient_id: str) -> bool:
    """Whether looking for the patient's recall from here finds nothing at all."""
    return recall_facts.gather(scope, [patient_id], TODAY) == [] and not recall_recompute.recompute_recall(
        scope, patient_id, TODAY
    )
