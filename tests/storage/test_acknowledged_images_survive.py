"""What was said to be recorded is there after the program was killed; what was not is either whole or absent."""

from __future__ import annotations

import hashlib
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from sqlalchemy import text

from app.imaging.decode import ImageLimits, read_radiograph
from app.storage.series import ExposureRow, ImageRow, SeriesRow
from tests.making import a_series, image_file, loaded
from tests.people import Practice

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 3

DIE_ONCE_KEPT = """
import os, sys
from pathlib import Path
from app.storage.image_store import ImageStore
from tests.storage.loading_process import load_one_after_another
keep = ImageStore.keep
ImageStore.keep = lambda self, data: (keep(self, data), os._exit(9))
load_one_after_another(Path(sys.argv[1]), sys.argv[2], sys.argv[3], 1)
"""


def killed_while_loading(practice: Practice, series: SeriesRow, first: int, patience_s: float) -> list[str]:
    """Let a process load, kill it ``patience_s`` seconds after its first acknowledgement; what it acknowledged."""
    words = [sys.executable, "-m", "tests.storage.loading_process", str(practice.store.folder)]
    words += [practice.assistant.staff_id, series.id, str(first)]
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        said = process.stdout.readline()
        time.sleep(patience_s)
        process.send_signal(signal.SIGKILL)
        said += process.stdout.read()
    assert process.returncode == -signal.SIGKILL
    # The last line counts only if it was finished.
    return [line.strip() for line in said.splitlines(keepends=True) if line.endswith("\n")]


def check_whole(practice: Practice, series_id: str) -> list[str]:
    """Nothing is half-recorded; the ids of the exposures, in order."""
    images = practice.store.images
    with practice.store.reading(practice.assistant.practice_id) as scope:
        exposures = scope.all(scope.select(ExposureRow).order_by(ExposureRow.position))
        rows = {row.id: row for row in scope.all(scope.select(ImageRow))}
        series = scope.get(SeriesRow, series_id, "series")
        sound = scope.session.connection().execute(text("PRAGMA integrity_check")).scalar_one()
    assert sound == "ok"
    assert [each.position for each in exposures] == list(range(1, len(exposures) + 1))
    assert series.version == 1 + len(exposures)
    assert {each.image_id for each in exposures} == set(rows)
    for row in rows.values():
        data = images.read(row.sha256)
        assert (hashlib.sha256(data).hexdigest(), len(data)) == (row.sha256, row.byte_count)
        assert read_radiograph(data, name="kept", limits=ImageLimits()).width == row.width
    for name in images.names():
        assert hashlib.sha256(images.read(name)).hexdigest() == name
    return [each.id for each in exposures]


def test_every_acknowledged_exposure_survives_being_killed_at_any_moment(practice: Practice) -> None:
    series = a_series(practice)
    moments = random.Random(20260327)
    acknowledged: list[str] = []
    for turn in range(ROUNDS):
        acknowledged += killed_while_loading(practice, series, 1 + 1000 * turn, moments.uniform(0.0, 0.4))
        recorded = check_whole(practice, series.id)

        assert [each for each in recorded if each in set(acknowledged)] == acknowledged
        # At most the one image under way when it was killed is recorded and not acknowledged, each round.
        assert len(recorded) - len(acknowledged) <= turn + 1
    assert len(acknowledged) >= ROUNDS


def test_a_file_kept_but_not_recorded_can_simply_be_loaded_again(practice: Practice) -> None:
    series = a_series(practice)
    words = [str(practice.store.folder), practice.assistant.staff_id, series.id]
    died = subprocess.run([sys.executable, "-c", DIE_ONCE_KEPT, *words], cwd=ROOT, check=False, timeout=60)
    kept = practice.store.images.names()
    recorded = check_whole(practice, series.id)

    assert died.returncode == 9
    assert kept == [hashlib.sha256(image_file(1)).hexdigest()]
    assert recorded == []
    assert [loaded(practice, series, 1).id] == check_whole(practice, series.id)
