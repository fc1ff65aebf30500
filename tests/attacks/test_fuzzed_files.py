"""Changed image and import files: each is read or refused in words, in bounded time and memory.

``LONG_FUZZING=20000 .venv/bin/python -m pytest tests/attacks/test_fuzzed_files.py`` looks longer, and elsewhere
each time; in the suite the same few hundred files are tried every time.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator

import psutil
import pytest
from hypothesis import HealthCheck, given, settings

from app.core.errors import InputError
from app.exchange.csv_reading import read_csv
from app.imaging.errors import ImageRefused
from app.imaging.examine import Examination
from app.imaging.radiograph import ImageLimits
from app.imaging.workers import Workers
from tests.attacks.changed_files import KINDS, changed_images, changed_tables, fields_of, sound

LONG = int(os.environ.get("LONG_FUZZING", "0"))
MEMORY_BYTES = 2_000_000_000
SECONDS = 15.0
WANTED = Examination(name="a.png", limits=ImageLimits())
TAME = settings(
    max_examples=LONG or 200,
    derandomize=not LONG,
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    """One process under limits, as the server uses it."""
    pool = Workers(1, seconds=SECONDS, memory_bytes=MEMORY_BYTES)
    yield pool
    pool.close()


def the_worker() -> psutil.Process | None:
    """The process that reads the files."""
    found = [each for each in psutil.Process().children() if "app.imaging.worker_process" in each.cmdline()]
    return found[0] if found else None


@pytest.mark.parametrize("kind", KINDS)
def test_the_files_that_are_changed_are_sound_and_their_fields_known(workers: Workers, kind: str) -> None:
    """Else the tests below would only try what is refused at its first byte."""
    for mode in ("grey", "colour", "deep", "palette"):
        data = sound(kind, mode)

        assert workers.examine(data, WANTED).width == 48
        assert len(fields_of(kind, data)) >= 10


def test_a_changed_image_is_taken_or_refused_in_words(workers: Workers) -> None:
    """Never does it bring its reader down, take too long, or more memory than it may."""
    outcomes: Counter[str] = Counter()

    @TAME
    @given(changed_images())
    def try_it(data: bytes) -> None:
        what, mend = "", ""
        try:
            found = workers.examine(data, WANTED)
            sides = (found.width, found.height)
        except ImageRefused as refused:
            what, mend, sides = refused.what, refused.mend, (WANTED.limits.min_side,) * 2
        outcomes["refused" if what else "taken"] += 1

        assert min(sides) >= WANTED.limits.min_side
        assert sides[0] * sides[1] <= WANTED.limits.max_pixels
        assert bool(what) == bool(mend)
        assert "brought the reader down" not in what, data.hex()
        assert "seconds" not in what, data.hex()

    try_it()
    worker = the_worker()

    # Both happen often, so that both are tried.
    assert min(outcomes["taken"], outcomes["refused"]) > sum(outcomes.values()) / 20, outcomes
    assert worker is not None
    assert worker.memory_info().rss < 800_000_000


def test_a_changed_table_is_read_or_refused_in_words() -> None:
    outcomes: Counter[str] = Counter()

    @TAME
    @given(changed_tables())
    def try_it(data: bytes) -> None:
        told = InputError("file", "a fault is told in a sentence")
        table = None
        try:
            table = read_csv(data)
        except InputError as refused:
            told = refused
        outcomes["read" if table else "refused"] += 1

        assert table is None or all(len(row.fields) == len(table.header) for row in table.rows)
        assert table is None or all(fault.line >= 1 and fault.reason for fault in table.faults)
        assert told.path in ("file", "encoding", "delimiter")
        assert len(told.message) > 10

    try_it()

    assert min(outcomes["read"], outcomes["refused"]) > sum(outcomes.values()) / 20, outcomes
