"""How long the quality review's figures take with a million exposures, as a ratio to one bare aggregate query.

Run by hand: ``.venv/bin/python -m tests.bench.bench_quality [EXPOSURES]``. Aim: the page's figures in under half a
second after the first view, which counts everything once. SQLite, in a folder that is thrown away.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any

from sqlalchemy import insert, text

from app.core.dentition import Dentition
from app.core.templates import Template
from app.exchange.shared_data import builtin_templates
from app.exchange.template_file import write_template
from app.storage.database import Store
from app.storage.people import Patient, Staff
from app.storage.practice import Receptor, Room
from app.storage.series import ExposureRow, ImageRow, SeriesRow, SignOff
from app.work.accounts import first_start
from app.work.actor import Actor
from app.work.audit_series import exemptions_for
from app.work.charts import write_chart
from app.work.quality_comparison import compare_operators
from app.work.quality_figures import figures, overview
from app.work.quality_grades import grade_report
from app.work.quality_period import DIMENSIONS, Period
from app.work.quality_record import choose_scheme
from app.work.quality_refresh import bring_up_to_date
from app.work.quality_training import lessons
from app.work.quality_trends import trend

YEARS = 8
LAST = date(2026, 3, 31)
TEMPLATES = ("adult-18", "adult-18", "bitewings-4")
FAULTS = ("overlap", "apex_cut_off", "cone_cut", "foreshortened", "blurred")
BATCH = 2_000


def seconds(job: Callable[[], object], repeats: int = 5) -> float:
    """Median time of one run, the first one left out."""
    job()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


class Filling:
    """A practice's rows, made as a program would write them, but in bulk."""

    def __init__(self, actor: Actor, exposures: int) -> None:
        self.random = Random(7)
        self.practice_id, self.dentist = actor.practice_id, actor.staff_id
        self.wanted = exposures
        self.operators = [f"op{number}" for number in range(6)]
        self.skill = dict(zip(self.operators, (0.03, 0.05, 0.06, 0.08, 0.1, 0.13), strict=True))
        self.rooms = [f"room{number}" for number in range(3)]
        self.receptors = [f"rec{number}" for number in range(5)]
        self.templates = builtin_templates()
        self.made = 0
        # Made once and changed for each row: rows of the program's own classes cost too much a million times over.
        self.plain_series = {
            key: SeriesRow(
                practice_id=self.practice_id, patient_id="", template=write_template(self.templates[key]),
                template_key=key, policy={"posterior_contacts": "any"}, dentition=write_chart(Dentition()),
                exempt=exemptions_for(self.templates[key], Dentition()), prescribed_by=self.dentist, reason="x",
                started_on=LAST, started_by="", status="closed", version=9,
            ).model_dump()
            for key in set(TEMPLATES)
        }  # fmt: skip
        self.plain_exposure = ExposureRow(
            practice_id=self.practice_id, series_id="", position=1, image_id="", original_name="x", operator_id="",
            reviewed=True,
        ).model_dump()  # fmt: skip
        self.plain_sign_off = SignOff(
            practice_id=self.practice_id, series_id="", verdict="", closed_by=""
        ).model_dump()

    def people(self) -> Iterator[tuple[type[Any], list[dict[str, Any]]]]:
        at = datetime(2018, 1, 1, tzinfo=UTC)
        own = {"practice_id": self.practice_id}
        yield (
            Staff,
            [
                own | {"id": each, "name": each, "login": each, "role": "assistant", "password_hash": "-",
                       "retired": False, "created_at": at}
                for each in self.operators
            ],
        )  # fmt: skip
        yield Room, [own | {"id": each, "name": each, "retired": False} for each in self.rooms]
        yield (
            Receptor,
            [own | {"id": each, "name": each, "kind": "direct_sensor", "size": 2, "retired": False}
             for each in self.receptors],
        )  # fmt: skip
        yield (
            Patient,
            [
                Patient(
                    practice_id=self.practice_id, id=f"p{number}", chart_number=str(number), name=f"Name {number}",
                    birth_date=date(1930 + number % 90, 1 + number % 12, 1 + number % 28),
                ).model_dump()
                for number in range(5_000)
            ],
        )  # fmt: skip
        yield (
            ImageRow,
            [
                own | {"id": f"i{number}", "sha256": f"{number:064d}", "byte_count": 1, "width": 1, "height": 1,
                       "bits": 8, "format": "PNG", "stored_at": at}
                for number in range(40)
            ],
        )  # fmt: skip

    def series(self) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]], dict[str, Any]]]:
        """Series with their exposures and their closing, spread evenly over the years."""
        number = 0
        while self.made < self.wanted:
            number += 1
            share = self.made / self.wanted
            day = LAST - timedelta(days=int(YEARS * 365 * (1 - share)))
            yield self._one(f"s{number}", day)

    def _one(self, series_id: str, day: date) -> tuple[dict[str, Any], list[dict[str, Any]], dict[str, Any]]:
        random = self.random
        key, operator, room = random.choice(TEMPLATES), random.choice(self.operators), random.choice(self.rooms)
        template: Template = self.templates[key]
        at = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
        series = self.plain_series[key] | {
            "id": series_id, "patient_id": f"p{random.randrange(5_000)}", "started_on": day,
            "started_by": operator, "room_id": room,
        }  # fmt: skip
        exposures: list[dict[str, Any]] = []

        def expose(slot: str, fault: str, of: str | None, reason: str | None) -> str:
            position = len(exposures) + 1
            exposure = self.plain_exposure | {
                "id": f"{series_id}-{position}", "series_id": series_id, "position": position, "slot": slot,
                "image_id": f"i{position}", "operator_id": operator, "receptor_id": random.choice(self.receptors),
                "room_id": room, "taken_at": at, "shortfalls": [{"code": fault}] if fault else [],
                "retake_of": of, "retake_reason": reason,
            }  # fmt: skip
            exposures.append(exposure)
            return f"{series_id}-{position}"

        faulty = []
        for slot in template.required_slots:
            fault = random.choice(FAULTS) if random.random() < self.skill[operator] else ""
            made = expose(slot.id, fault, None, None)
            if fault:
                faulty.append((slot.id, fault, made))
        for slot_id, fault, made in faulty:
            if random.random() < 0.6:
                expose(slot_id, "", made, fault)
        self.made += len(exposures)
        verdict = "complete" if random.random() < 0.9 else "incomplete"
        signed = self.plain_sign_off | {
            "id": f"c{series_id}", "series_id": series_id, "verdict": verdict, "closed_by": operator,
            "audit": {"retake_plan": {"count": int(verdict != "complete")}}, "closed_at": at,
        }  # fmt: skip
        return series, exposures, signed


def fill(store: Store, actor: Actor, exposures: int) -> None:
    """Write the rows, some thousand series in each transaction."""
    filling = Filling(actor, exposures)
    with store.engine.begin() as connection:
        for table, rows in filling.people():
            connection.execute(insert(table), rows)
    making = filling.series()
    while batch := list(islice(making, BATCH)):
        with store.engine.begin() as connection:
            connection.execute(insert(SeriesRow), [each[0] for each in batch])
            connection.execute(insert(ExposureRow), [row for each in batch for row in each[1]])
            connection.execute(insert(SignOff), [each[2] for each in batch])


def page(store: Store, actor: Actor, period: Period) -> dict[str, object]:
    """Everything that the review's pages show of a period."""
    bring_up_to_date(store, actor.practice_id)
    with store.reading(actor.practice_id) as scope:
        return {
            "overview": overview(scope, actor, period),
            "tables": [figures(scope, actor, period, by) for by in DIMENSIONS],
            "operators": compare_operators(scope, actor, period),
            "trend": trend(scope, actor, period),
            "weeks": trend(scope, actor, period, outcome="non_diagnostic", grain="week"),
            "lessons": lessons(scope, actor, period),
            "grades": grade_report(scope, actor, period),
        }


def bare(store: Store, actor: Actor, period: Period) -> object:
    """One aggregate query over the same exposures."""
    with store.engine.connect() as connection:
        return connection.execute(
            text(
                "SELECT count(*), count(retake_of), sum(reviewed) FROM exposure "
                "WHERE practice_id = :practice AND taken_at >= :first AND taken_at < :after"
            ),
            {
                "practice": actor.practice_id,
                "first": str(period.first),
                "after": str(period.last + timedelta(days=1)),
            },
        ).one()


def main(exposures: int) -> None:
    """Print what was measured."""
    with tempfile.TemporaryDirectory(prefix="bench-quality-") as folder:
        store = Store(Path(folder) / "data", durable=False)
        store.migrate()
        actor = first_start(
            store, practice_name="Bench", name="Dr Bench", login="bench", password="seven grey stones"
        )
        with store.writing(actor.practice_id) as scope:
            choose_scheme(scope, actor, scheme_id="two-grades-2020", from_day="2010-01-01")
        start = time.perf_counter()
        fill(store, actor, exposures)
        print(f"{exposures:,} exposures written in {time.perf_counter() - start:.0f} s")
        start = time.perf_counter()
        series = bring_up_to_date(store, actor.practice_id)
        took = time.perf_counter() - start
        print(f"first view: {series:,} series counted in {took:.0f} s ({took / series * 1000:.2f} ms a series)")
        with store.engine.connect() as connection:
            cells = connection.execute(text("SELECT count(*) FROM quality_cell")).scalar()
        print(f"{cells:,} sums kept")
        for title, period in (
            ("twelve months", Period.twelve_months_to(LAST)),
            ("all years", Period.of_months(f"{LAST.year - YEARS}-01", f"{LAST:%Y-%m}")),
        ):
            baseline = seconds(lambda period=period: bare(store, actor, period))  # type: ignore[misc]
            figures_took = seconds(lambda period=period: page(store, actor, period))  # type: ignore[misc]
            counted = bare(store, actor, period)[0]  # type: ignore[index]
            print(
                f"{title}, {counted:,} exposures: all figures of the pages {figures_took * 1000:.0f} ms, one bare "
                f"aggregate query {baseline * 1000:.0f} ms, ratio {figures_took / baseline:.2f}"
            )
        print(json.dumps({"size_mb": (Path(folder) / "data" / "fullcount.sqlite3").stat().st_size // 2**20}))
        store.close()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
