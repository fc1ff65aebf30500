"""The demo's privacy duties: a pair of doubles, a corrected name, a record past its term, a hold."""

from __future__ import annotations

from datetime import UTC, date, datetime
from random import Random

from app.storage.database import Store
from app.work.actor import Actor
from app.work.patients import correct_patient, register_patient
from app.work.retention import choose_rule
from app.work.retention_holds import place_retention_hold
from seed.acting import acting

SEED = 20261


def add_privacy(store: Store, dentist: Actor, desk: Actor, today: date) -> None:
    """So that no page of these is empty."""
    random = Random(SEED)
    with acting(store, dentist) as scope:

        def registered(chart_number: str, name: str, birth_date: str, phone: str = "") -> str:
            return register_patient(
                scope, desk, chart_number=chart_number, name=name, birth_date=birth_date, phone=phone, today=today
            ).id

        registered("P7001", "Leontine Abernathy-Voss", "1979-11-23", f"01632 960{random.randint(100, 199)}")
        registered("P7002", "Leontine Abernathy", "1979-11-23", f"01632 960{random.randint(100, 199)}")
        corrected = registered("P7003", "Casimir Holloway", "1964-02-17", "01632 960205")
        words = {"chart_number": "P7003", "name": "Kasimir Holloway", "birth_date": "1964-02-17"}
        correct_patient(
            scope, desk, corrected, **words, phone="01632 960206", reason="as on the card", today=today
        )
        for number, (name, born) in enumerate(
            (("Ottoline Fenwick", "1931-08-04"), ("Barnaby Sallow", "1940-05-30"))
        ):
            patient = register_patient(
                scope, desk, chart_number=f"P01{number}", name=name, birth_date=born, today=today
            )
            patient.created_at = datetime(1993 + number, 4, 6, 9, tzinfo=UTC)
            scope.session.add(patient)
            if number:
                note = "their lawyer's letter of last month"
                place_retention_hold(
                    scope, dentist, patient.id, kind="dispute", note=note, until_on="", today=today
                )
        choose_rule(scope, dentist, key="cautious")
