"""What the trail costs: a review with and without it, eighteen pictures of one page, a long chain proved.

Run by hand: ``.venv/bin/python -m tests.bench.bench_trail``. Aim: a review under 1.5 times of one without trail.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import psutil
from sqlmodel import Session

from app.storage.practice_scope import PracticeScope
from app.storage.trail_notes import Note, note
from app.work.review import reopen_review, review_exposure
from app.work.verify_trail import check_trail
from tests.making import a_series, loaded
from tests.people import Practice, founded

ROUNDS = 60
PICTURES = 18
LONG = int(os.environ.get("ENTRIES", "100000"))


@contextmanager
def bare(practice: Practice) -> Iterator[PracticeScope]:
    """A writing transaction that leaves nothing in the trail."""
    engine = practice.store.engine.execution_options(writer=True)
    with Session(engine, expire_on_commit=False) as session, session.begin():
        yield PracticeScope(session, practice.dentist.practice_id)


def milliseconds(job: Callable[[], object]) -> float:
    """Time of one run."""
    start = time.perf_counter()
    job()
    return (time.perf_counter() - start) * 1000


def reviews(practice: Practice) -> None:
    """One review and its reopening, in turn with and without trail."""
    exposure = loaded(practice, a_series(practice), slot="UR-molar").id
    doctor = practice.dentist

    def with_trail() -> None:
        with practice.store.writing(doctor.practice_id) as scope:
            review_exposure(scope, doctor, exposure, shortfalls=[{"code": "overlap"}])
        with practice.store.writing(doctor.practice_id) as scope:
            reopen_review(scope, doctor, exposure)

    def without() -> None:
        with bare(practice) as scope:
            review_exposure(scope, doctor, exposure, shortfalls=[{"code": "overlap"}])
        with bare(practice) as scope:
            reopen_review(scope, doctor, exposure)

    ours, theirs = [], []
    for _ in range(ROUNDS):
        ours.append(milliseconds(with_trail))
        theirs.append(milliseconds(without))
    with_it, without_it = statistics.median(ours), statistics.median(theirs)
    print(f"review, reopened: {with_it:.1f} ms, without trail {without_it:.1f}: {with_it / without_it:.2f} times")


def pictures(practice: Practice) -> None:
    """Eighteen views asked for at once, against eighteen transactions one after another."""

    def see(round_number: int, number: int) -> None:
        practice.store.trail.note(Note(kind="view", what=f"image {round_number} {number}"))

    together, alone = [], []
    with ThreadPoolExecutor(PICTURES) as pool:
        for turn in range(10):
            together.append(milliseconds(lambda t=turn: list(pool.map(lambda n: see(t, n), range(PICTURES)))))
            alone.append(milliseconds(lambda t=turn: [see(t, n) for n in range(PICTURES)]))
    ratio = statistics.median(together) / statistics.median(alone)
    print(f"{PICTURES} pictures at once: {statistics.median(together):.1f} ms, {ratio:.2f} of one after another")


def long_chain(practice: Practice) -> None:
    """A long chain written and proved; memory must not grow with it."""
    for _ in range(0, LONG, 1000):
        with practice.store.writing(practice.dentist.practice_id) as scope:
            for number in range(1000):
                note(scope, Note(kind="view", what="image", details={"sha256": f"{number:064x}"}))
    check_trail(practice.store.engine, {})
    before = psutil.Process().memory_info().rss
    start = time.perf_counter()
    checked = check_trail(practice.store.engine, {})
    seconds = time.perf_counter() - start
    grown = (psutil.Process().memory_info().rss - before) / 1e6
    assert not checked.findings
    each = seconds / checked.entries * 1e6
    print(f"{checked.entries} entries proved in {seconds:.1f} s ({each:.0f} µs each), {grown:.1f} MB more")


def main() -> None:
    """Print each figure."""
    with tempfile.TemporaryDirectory() as folder:
        practice = founded(Path(folder) / "data")
        reviews(practice)
        pictures(practice)
        long_chain(practice)
        practice.store.close()


if __name__ == "__main__":
    main()
