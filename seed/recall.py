"""The demo's recall: a chosen table, risks, prescriptions, holds and contacts, so that the list is alive.

Draws from a random of its own, so that nothing else of the demo changes with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from random import Random

from app.core.recall.intervals import months_after
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work.actor import Actor
from app.work.recall_contacts import note_contact
from app.work.recall_holds import place_hold
from app.work.recall_outside import record_outside_images
from app.work.recall_policies import choose_policy
from app.work.recall_prescriptions import assess_risk, prescribe_recall
from app.work.recall_recompute import recompute_many
from seed.acting import acting

SEED = 60_200
CONTACT_NOTES = {
    "reached": ("will ring back about the day", "asks for a morning"),
    "message": ("on the answering machine", "with the neighbour"),
    "wrong_number": ("a bakery answers", ""),
    "letter": ("", ""),
    "declined": ("wants none for now", "will not come before the summer"),
}
"""What the desk wrote, by outcome. All invented."""


def fill_recall(
    store: Store, dentist: Actor, front_desk: Actor, patients: Sequence[Patient], today: date, seed: int = SEED
) -> None:
    """Put a year of recall work into the demo practice.

    Parameters
    ----------
    patients : in the order in which they were registered
    today : the day on which the demo stands
    """
    random = Random(seed)
    with acting(store, dentist) as scope:
        for patient in patients:
            _assess(scope, dentist, patient, random, today)
        choose_policy(scope, dentist, "ada_fda_2012", today=today)
        for number, patient in enumerate(patients):
            _one(scope, dentist, front_desk, patient, number, random, today)
        recompute_many(scope, [patient.id for patient in patients], today)
    with acting(store, front_desk) as scope:
        _contacts(scope, front_desk, random, today)


def _assess(scope: PracticeScope, dentist: Actor, patient: Patient, random: Random, today: date) -> None:
    """A risk for most, some of it old."""
    if random.random() < 0.12:
        return
    level = random.choices(("low", "moderate", "high"), (5, 3, 2))[0]
    reasons = random.sample(
        ("hygiene", "sucrose", "recurrent", "dry_mouth", "fluoride"), 0 if level == "low" else 2
    )
    day = max(patient.birth_date, today - timedelta(days=random.randint(10, 900)))
    assess_risk(scope, dentist, patient.id, level=level, reasons=reasons, assessed_on=day.isoformat(), today=today)


def _one(
    scope: PracticeScope,
    dentist: Actor,
    front_desk: Actor,
    patient: Patient,
    number: int,
    random: Random,
    today: date,
) -> None:
    """A prescription, images from elsewhere, or a hold for some."""
    end = months_after(today, 24).isoformat()
    if number % 9 == 2:
        prescribe_recall(
            scope, dentist, patient.id, kind="bitewings", interval_months=str(random.choice((6, 9, 12))),
            reason="new lesions at the last visit", ends_on=end, today=today,
        )  # fmt: skip
    elif number % 17 == 5:
        day = (today + timedelta(days=random.randint(15, 150))).isoformat()
        prescribe_recall(
            scope, dentist, patient.id, kind="full_series", due_on=day,
            reason="generalised disease: progress to be compared", ends_on=end, today=today,
        )  # fmt: skip
    elif number % 7 == 3:
        taken = max(patient.birth_date, today - timedelta(days=random.randint(60, 1200)))
        record_outside_images(
            scope, front_desk, patient.id, kind="bitewings", taken_on=taken.isoformat(),
            origin="brought from a practice in Saltmarrow", today=today,
        )  # fmt: skip
    elif number % 13 == 6:
        kind = random.choice(("transferred", "dentist"))
        until = "" if kind == "transferred" else (today + timedelta(days=random.randint(40, 200))).isoformat()
        note = {
            "transferred": "moved inland",
            "pregnancy": "told us by phone",
            "dentist": "see at the check first",
        }
        place_hold(scope, dentist, patient.id, kind=kind, until_on=until, note=note[kind], today=today)


def _contacts(scope: PracticeScope, front_desk: Actor, random: Random, today: date) -> None:
    """What the desk did for those who were due."""
    due = scope.select(RecallItem).where(RecallItem.state == "open", RecallItem.due_on <= today)  # type: ignore[operator]
    lines = sorted(scope.all(due), key=lambda line: (str(line.due_on), line.patient_id))
    for patient_id in dict.fromkeys(line.patient_id for line in lines):
        for _ in range(random.choices((0, 1, 2), (4, 4, 2))[0]):
            outcome = random.choices(tuple(CONTACT_NOTES), (4, 6, 1, 3, 1))[0]
            day = today - timedelta(days=random.randint(1, 60))
            again = today + timedelta(days=random.randint(1, 21))
            note_contact(
                scope, front_desk, patient_id, outcome=outcome, note=random.choice(CONTACT_NOTES[outcome]),
                next_try_on=again.isoformat() if random.random() < 0.5 else "", today=today,
                at=datetime.combine(day, time(10, random.randint(0, 59)), tzinfo=UTC),
            )  # fmt: skip
