"""How long the recall list takes in a practice of 200,000 patients, beside the bare query of the same page.

Run by hand: ``.venv/bin/python -m tests.bench.bench_recall [patients]``. Each line is one deed of the desk;
the bare query is what SQLite alone takes for the ids of the same page, through its own driver, in the same run.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random

from sqlalchemy import insert

from app.storage.columns import new_id
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.recall import RecallItem
from app.work import accounts
from app.work.recall_filter import RecallFilter
from app.work.recall_list import recall_page
from app.work.recall_recompute import recompute_many, stale_count

TODAY = date(2026, 3, 27)
REPEATS = 7
CHUNK = 5000
STATES = ("open", "booked", "held", "none")


def fill(store: Store, practice_id: str, patients: int, random: Random) -> None:
    """Patients with one line each, spread over five years and every state."""
    for start in range(0, patients, CHUNK):
        people, lines = [], []
        for number in range(start, min(start + CHUNK, patients)):
            key = new_id()
            way = random.choice(("phone", "email", "letter", ""))
            people.append(
                {
                    "id": key, "practice_id": practice_id, "chart_number": f"B{number}", "name": f"Bench {number}",
                    "sought_as": f"bench {number} b{number}", "birth_date": date(1980, 1, 1), "phone": "555 0100",
                    "email": "", "preferred_contact": way, "dentition_kind": "permanent", "states": {},
                    "roots": {}, "closed_spaces": [], "created_at": datetime(2020, 1, 1, tzinfo=UTC),
                }
            )  # fmt: skip
            due = TODAY + timedelta(days=random.randint(-900, 900))
            contact = None
            if random.random() < 0.4:
                contact = datetime(2026, 3, 1, tzinfo=UTC) - timedelta(days=random.randint(0, 400))
            risk = random.randint(0, 3)
            lines.append(
                {
                    "id": new_id(), "practice_id": practice_id, "patient_id": key,
                    "kind": random.choice(("bitewings", "bitewings", "review")), "last_on": None,
                    "earliest_on": due - timedelta(days=180), "due_on": due,
                    "overdue_on": due + timedelta(days=180), "basis": "table", "source": "ada_fda_2012",
                    "because": "interval", "condition": "", "risk": ("high", "moderate", "low", "")[risk],
                    "risk_rank": risk, "state": random.choices(STATES, (85, 6, 5, 4))[0],
                    "held_for": "declined", "booked_on": None, "appointment_id": "", "preferred_contact": way,
                    "last_outcome": "message" if contact else "", "last_contact_at": contact,
                    "next_try_on": TODAY + timedelta(days=5) if contact and random.random() < 0.5 else None,
                    "valid_until": date.max, "claimed_by": None, "claimed_at": None,
                }
            )  # fmt: skip
        with store.writing(practice_id) as scope:
            scope.session.execute(insert(Patient), people)
            scope.session.execute(insert(RecallItem), lines)


def median_ms(do: Callable[[], object]) -> float:
    """Median time of a few runs after one to warm up, ms."""
    do()
    taken = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        do()
        taken.append((time.perf_counter() - begun) * 1000)
    return statistics.median(taken)


def main(patients: int) -> None:
    """Print each thing with its time, that of the bare query, and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder) / "data", durable=False)
        store.migrate()
        actor = accounts.first_start(
            store, practice_name="Bench", name="Dr Bench", login="bench", password="eight grey stones"
        )
        print(f"filling {patients} patients …", flush=True)
        fill(store, actor.practice_id, patients, Random(1))
        measure(store, actor.practice_id)
        store.close()


def measure(store: Store, practice_id: str) -> None:
    """Print the times of a store that has been filled."""
    bare = sqlite3.connect(store.folder / "fullcount.sqlite3")
    asked: dict[str, tuple[RecallFilter, int]] = {
        "overdue, by due date": (RecallFilter(), 1),
        "overdue, a page far back": (RecallFilter(), 900),
        "overdue, by risk": (RecallFilter(sort="risk"), 1),
        "overdue, by last contact": (RecallFilter(sort="contact"), 1),
        "due now, high risk, by phone": (RecallFilter(when="due", risk="high", contact="phone"), 1),
        "later, reviews, to try today": (RecallFilter(when="later", kind="review", ready=True), 1),
        "held": (RecallFilter(when="held"), 1),
        "by name": (RecallFilter(words="bench 777"), 1),
    }
    query = (
        "SELECT id FROM recall_item WHERE practice_id = ? AND state = 'open' AND due_on < ? AND overdue_on < ?"
        " ORDER BY due_on, id LIMIT 50"
    )
    count = "SELECT count(*) FROM recall_item WHERE practice_id = ? AND state = 'open' AND due_on < ?"
    day = TODAY.isoformat()

    def bare_page() -> object:
        return (
            bare.execute(query, (practice_id, day, day)).fetchall(),
            bare.execute(count, (practice_id, day)).fetchall(),
        )

    beside = median_ms(bare_page)
    print(f"{'bare query and count':34} {beside:8.1f} ms")
    for name, (filter_, number) in asked.items():

        def page(filter_: RecallFilter = filter_, number: int = number) -> object:
            with store.reading(practice_id) as scope:
                return recall_page(scope, filter_, TODAY, number), stale_count(scope, TODAY)

        taken = median_ms(page)
        print(f"{name:34} {taken:8.1f} ms   {taken / beside:6.1f} × bare")
    with store.writing(practice_id) as scope:
        ids = [each.id for each in scope.all(scope.select(Patient).limit(250))]
        begun = time.perf_counter()
        recompute_many(scope, ids, TODAY)
        print(f"{'working out 250 patients anew':34} {(time.perf_counter() - begun) * 1000:8.1f} ms")
    bare.close()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000)
