"""What the tests of the recall have in common: a patient with images of a day, and the lines as they stand."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work import recall_bookings, recall_contacts, recall_holds, recall_outside, recall_prescriptions
from app.work.patients import register_patient
from app.work.recall_policies import choose_policy
from app.work.recall_recompute import WORKED_OUT, fresh_lines, recompute_stale
from tests.people import TODAY, Practice

LAST = "2024-05-31"


def an_adult(practice: Practice, *, images: str = LAST, risk: str = "low", table: str = "ada_fda_2012") -> str:
    """An adult with bitewings from elsewhere, a risk and a chosen table; any of them may be left empty."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        if table:
            choose_policy(scope, practice.dentist, table, today=TODAY)
        patient = register_patient(
            scope, practice.front_desk, chart_number="H200", name="Ilva Tern", birth_date="1984-05-06",
            phone="555 0134", preferred_contact="phone", today=TODAY,
        )  # fmt: skip
        if images:
            outside(scope, practice, patient.id, images)
        if risk:
            recall_prescriptions.assess_risk(
                scope, practice.dentist, patient.id, level=risk, assessed_on="2026-01-10", today=TODAY
            )
        return patient.id


def outside(scope: PracticeScope, practice: Practice, patient_id: str, day: str, today: date = TODAY) -> str:
    """Bitewings from elsewhere."""
    return recall_outside.record_outside_images(
        scope,
        practice.front_desk,
        patient_id,
        kind="bitewings",
        taken_on=day,
        origin="Cormorant House",
        today=today,
    ).id


def line_of(practice: Practice, patient_id: str, kind: str = "") -> RecallItem:
    """The patient's line of bitewings or review, or of a kind."""
    with practice.store.reading(practice.dentist.practice_id) as scope:
        lines = scope.all(scope.select(RecallItem).where(RecallItem.patient_id == patient_id))
    wanted = [each for each in lines if (each.kind == kind if kind else each.kind != "full_series")]
    assert len(wanted) == 1, [each.kind for each in lines]
    return wanted[0]


def differences(scope: PracticeScope, today: date) -> list[str]:
    """Where the kept list is not what would be worked out now; empty when it is right."""
    kept: dict[str, dict[str, RecallItem]] = {}
    for row in scope.all(scope.select(RecallItem)):
        kept.setdefault(row.patient_id, {})[row.kind] = row
    found = []
    for patient_id, lines in fresh_lines(scope, list(kept), today).items():
        fresh = {line["kind"]: line for line in lines}
        if set(fresh) != set(kept[patient_id]):
            found.append(f"{patient_id}: kept {sorted(kept[patient_id])}, fresh {sorted(fresh)}")
            continue
        for kind, line in fresh.items():
            found += [
                f"{patient_id} {kind}.{name}: kept {getattr(kept[patient_id][kind], name)}, fresh {value}"
                for name in WORKED_OUT
                if (value := line[name]) != getattr(kept[patient_id][kind], name)
            ]
    return found


class BusyDesk:
    """Does whatever people do at a desk, one thing after another, the same every time for a seed."""

    def __init__(self, practice: Practice, patients: list[str], seed: int) -> None:
        self.practice = practice
        self.patients = patients
        self.random = Random(seed)
        self.today = TODAY
        self.appointments = 0

    def step(self) -> str:
        """One thing; answers what it was."""
        deed = self.random.choice(
            ("risk", "prescribe", "hold", "outside", "contact", "book", "unbook", "policy", "time")
        )
        patient, practice, today = self.random.choice(self.patients), self.practice, self.today
        ahead = (today + timedelta(days=self.random.randint(31, 400))).isoformat()
        past = (today - timedelta(days=self.random.randint(0, 900))).isoformat()
        with practice.store.writing(practice.dentist.practice_id) as scope:
            doctor, desk = practice.dentist, practice.front_desk
            match deed:
                case "risk":
                    level = self.random.choice(("low", "moderate", "high"))
                    recall_prescriptions.assess_risk(
                        scope, doctor, patient, level=level, assessed_on=past, today=today
                    )
                case "prescribe":
                    given = {"interval_months": str(self.random.randint(1, 24))}
                    if self.random.random() < 0.5:
                        given = {"due_on": today.isoformat()}
                    kind = self.random.choice(("bitewings", "full_series"))
                    recall_prescriptions.prescribe_recall(
                        scope,
                        doctor,
                        patient,
                        kind=kind,
                        reason="as examined",
                        ends_on=ahead,
                        today=today,
                        **given,
                    )
                case "hold":
                    kind = self.random.choice(tuple(recall_holds.HOLD_KINDS))
                    until = self.random.choice(("", ahead))
                    recall_holds.place_hold(
                        scope, doctor, patient, kind=kind, until_on=until, note="as said", today=today
                    )
                case "outside":
                    outside(scope, practice, patient, past, today)
                case "contact":
                    outcome = self.random.choice(tuple(recall_contacts.OUTCOMES))
                    moment = datetime.combine(today, time(9, 30), tzinfo=ZoneInfo("UTC"))
                    recall_contacts.note_contact(
                        scope, desk, patient, outcome=outcome, next_try_on=ahead, today=today, at=moment
                    )
                case "book":
                    self.appointments += 1
                    day = date.fromisoformat(ahead)
                    recall_bookings.note_booked(scope, desk, patient, f"a{self.appointments}", day, today)
                case "unbook":
                    recall_bookings.note_unbooked(scope, desk, patient, f"a{self.appointments}", today)
                case "policy":
                    key = self.random.choice(("ada_fda_2012", "fgdp_uk_3", "ada_aaomr_2026", "none"))
                    choose_policy(scope, doctor, key, today=today)
                case "time":
                    self.today += timedelta(days=self.random.randint(1, 90))
                    recompute_stale(scope, self.today)
        return deed
