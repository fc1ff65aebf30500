"""Writers take turns, readers do not wait, and a transaction is done in full or not at all."""

from __future__ import annotations

import subprocess
import sys
from threading import Event, Thread

import pytest

from app.storage.database import Store
from app.storage.people import Patient
from app.storage.series import ExposureRow, SeriesRow
from app.work.patients import find_patients, register_patient
from app.work.review import review_exposure
from tests.making import a_series, loaded
from tests.people import TODAY, Practice

COUNT_UP = """
import sys
from pathlib import Path
from app.storage.database import Store
from app.storage.series import SeriesRow
store = Store(Path(sys.argv[1]))
for _ in range(20):
    with store.writing(sys.argv[2]) as scope:
        row = scope.get(SeriesRow, sys.argv[3], "series")
        row.version += 1
        scope.session.add(row)
"""


def test_the_second_writer_waits_and_then_sees_what_the_first_did(practice: Practice) -> None:
    happened: list[str] = []
    first_inside, second_asks = Event(), Event()

    def second() -> None:
        first_inside.wait()
        other = Store(practice.store.folder)
        second_asks.set()
        with other.writing(practice.dentist.practice_id) as scope:
            happened.append(f"second sees {[row.name for row in find_patients(scope)]}")
        other.close()

    thread = Thread(target=second)
    thread.start()
    with practice.store.writing(practice.dentist.practice_id) as scope:
        before = find_patients(scope)
        first_inside.set()
        second_asks.wait()
        # Time enough for the second to get in, were it not kept waiting.
        thread.join(0.3)
        born = "1984-05-06"
        register_patient(scope, practice.dentist, chart_number="1", name="Ada", birth_date=born, today=TODAY)
        happened.append("first is done")
    thread.join()

    assert before == []
    assert happened == ["first is done", "second sees ['Ada']"]


def test_no_change_of_two_busy_processes_is_lost(practice: Practice) -> None:
    """Each reads a number and writes it one higher, 20 times."""
    series = a_series(practice)
    words = [sys.executable, "-c", COUNT_UP, str(practice.store.folder), series.practice_id, series.id]
    running = [subprocess.Popen(words) for _ in range(2)]
    ended = [each.wait() for each in running]

    assert ended == [0, 0]
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.get(SeriesRow, series.id, "series").version == series.version + 40


def test_a_reader_does_not_wait_and_sees_the_last_finished_state(practice: Practice) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        born = "1984-05-06"
        register_patient(scope, practice.dentist, chart_number="1", name="Ada", birth_date=born, today=TODAY)
        with practice.store.reading(practice.dentist.practice_id) as beside:
            seen = find_patients(beside)

    assert seen == []
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert [row.name for row in find_patients(scope)] == ["Ada"]


def test_an_error_undoes_everything_of_its_transaction(either: Practice) -> None:
    series = a_series(either)
    exposure = loaded(either, series, slot="UR-molar")

    def fail_late() -> None:
        with either.store.writing(either.dentist.practice_id) as scope:
            register_patient(
                scope, either.dentist, chart_number="2", name="Bo", birth_date="1990-01-01", today=TODAY
            )
            review_exposure(scope, either.dentist, exposure.id, shortfalls=[{"code": "overlap"}])
            raise RuntimeError("the light went out")

    with pytest.raises(RuntimeError, match="the light went out"):
        fail_late()

    with either.store.reading(either.dentist.practice_id) as scope:
        assert [row.chart_number for row in scope.all(scope.select(Patient))] == ["H100"]
        row = scope.get(ExposureRow, exposure.id, "image")
        assert (row.reviewed, row.shortfalls) == (False, [])
        assert scope.get(SeriesRow, series.id, "series").version == series.version + 1
