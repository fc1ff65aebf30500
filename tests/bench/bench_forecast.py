"""How long the forecast of a very large practice takes, beside the bare query of its recalls.

Run by hand: ``.venv/bin/python -m tests.bench.bench_forecast``. 200,000 patients, as many recalls on record, a
year of booked appointments in four rooms. Aim: the page's forecast under 300 ms.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random

from sqlalchemy import insert, text

from app.storage.bookings import Appointment
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.work import accounts
from app.work.actor import Actor
from app.work.booking_hours import save_booking_settings, save_hours
from app.work.forecast import year_forecast
from app.work.practice import add_room

PATIENTS = 200_000
NOW = datetime(2026, 3, 27, 7, tzinfo=UTC)


def milliseconds(job: Callable[[], object], repeats: int = 15) -> tuple[float, float]:
    """Median and worst time of one run, after one that warms up."""
    job()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        job()
        times.append((time.perf_counter() - start) * 1000)
    return statistics.median(times), max(times)


def filled(store: Store) -> Actor:
    """A practice of that size."""
    doctor = accounts.first_start(store, practice_name="Large", name="D", login="doctor", password="a b c d e f g")
    chance = Random(1)
    with store.writing(doctor.practice_id) as scope:
        save_booking_settings(scope, doctor, time_zone="Europe/Berlin", recall_share="100", recall_minutes="10")
        rooms = [add_room(scope, doctor, f"Room {number}").id for number in range(4)]
        for room in rooms:
            save_hours(scope, doctor, room, ["07:00-19:00"] * 6 + [""])
        _people(scope, doctor.practice_id, chance)
        _appointments(scope, doctor, rooms)
    return doctor


def _people(scope: PracticeScope, practice_id: str, chance: Random) -> None:
    patients, items = [], []
    for number in range(PATIENTS):
        day = NOW.date() + timedelta(days=chance.randint(-200, 700))
        patients.append(
            {
                "id": f"p{number}",
                "practice_id": practice_id,
                "chart_number": f"C{number}",
                "name": f"Patient {number}",
                "sought_as": "",
                "birth_date": date(1980, 1, 1),
                "phone": "",
                "email": "",
                "preferred_contact": "",
                "dentition_kind": "permanent",
                "states": {},
                "roots": {},
                "closed_spaces": [],
                "created_at": NOW,
            }
        )
        item = RecallItem(
            practice_id=practice_id,
            patient_id=f"p{number}",
            kind="bitewings",
            earliest_on=day,
            due_on=day,
            overdue_on=day + timedelta(days=60),
            basis="table",
            state=chance.choice(("open",) * 8 + ("held", "booked")),
            valid_until=day,
        )
        items.append(item.model_dump())
    scope.session.execute(insert(Patient), patients)
    scope.session.execute(insert(RecallItem), items)


def _appointments(scope: PracticeScope, doctor: Actor, rooms: list[str]) -> None:
    rows = []
    for ahead in range(-300, 365):
        for room in rooms:
            for number in range(20):
                start = NOW + timedelta(days=ahead, minutes=20 * number)
                row = Appointment(
                    practice_id=doctor.practice_id,
                    patient_id=f"p{number}",
                    room_id=room,
                    starts_at=start,
                    ends_at=start + timedelta(minutes=10),
                    minutes=10,
                    purpose="bitewings-4",
                    status="booked" if ahead >= 0 else "missed" if number % 9 == 0 else "kept",
                    booked_by=doctor.staff_id,
                )
                rows.append(row.model_dump())
    scope.session.execute(insert(Appointment), rows)


def main() -> None:
    """Fill, measure, print."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder), durable=False)
        store.migrate()
        doctor = filled(store)

        def bare() -> object:
            # What any answer needs at the least: the recalls of the practice counted by day.
            with store.engine.connect() as connection:
                query = "SELECT due_on, count(*) FROM recall_item WHERE practice_id = :p AND state = 'open' "
                query += "AND due_on < '2027-03-30' GROUP BY due_on"
                return connection.execute(text(query), {"p": doctor.practice_id}).fetchall()

        def whole() -> object:
            with store.reading(doctor.practice_id) as scope:
                return year_forecast(scope, NOW)

        floor, floor_worst = milliseconds(bare)
        used, worst = milliseconds(whole)
        print(
            f"{PATIENTS} patients: forecast {used:.0f} ms (worst {worst:.0f}), bare query {floor:.0f} ms "
            f"(worst {floor_worst:.0f}), ratio {used / floor:.1f}"
        )
        store.close()


if __name__ == "__main__":
    main()
