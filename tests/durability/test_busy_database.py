"""Another process holds the database: a clear answer in time, nothing half written, and later tries succeed."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

from tests.durability.serving import RADIOGRAPHS, log_in, serving, upload
from tests.durability.whole import recorded
from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.web.client import Page, check

HOLD = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN EXCLUSIVE")
print("held", flush=True)
sys.stdin.readline()
"""

SHORTER = "from app.storage import database; database.BUSY_TIMEOUT_MS = 1000"
"""A writer waits one second instead of five."""


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Another process holds the database exclusively while this is open."""
    words = [sys.executable, "-c", HOLD, str(folder / "fullcount.sqlite3")]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield
        process.communicate("\n")


def test_a_busy_database_is_told_and_the_same_upload_succeeds_afterwards(practice: Practice) -> None:
    series = a_series(practice)
    other = a_series(practice, patient_id=a_patient(practice, "H200").id)
    first = loaded(practice, series)
    who = log_in(practice)
    with serving(practice.store.folder, first=SHORTER) as server, who.client(server) as client:
        client.get(f"/series/{series.id}")
        with held(practice.store.folder):
            refused = upload(client, who, series.id, RADIOGRAPHS[:2])
            page: httpx.Response = client.post(
                "/patients/new",
                data={"csrf_token": who.csrf_token, "chart_number": "9", "name": "Bo", "birth_date": "1990-01-01"},
            )
            # Whoever looks at it already goes on; a view that cannot be put into the trail is not given.
            reading = client.get(f"/series/{series.id}")
            unseen = client.get(f"/series/{other.id}")
            meanwhile = recorded_ids(practice)
        again = upload(client, who, series.id, RADIOGRAPHS[:2])

    assert (refused.status_code, refused.headers["retry-after"]) == (503, "5")
    assert refused.json()["error"]["message"].startswith("The database is busy")
    assert (page.status_code, page.headers["retry-after"]) == (503, "5")
    check(Page(page))
    assert "The database is busy" in page.text
    assert (reading.status_code, unseen.status_code) == (200, 503)
    assert unseen.headers["retry-after"] == "5"
    assert "the database locked" in unseen.text
    assert meanwhile == [first.id]
    assert [each["outcome"] for each in again.json()["results"]] == ["taken", "taken"]
    assert len(recorded(practice)[series.id]) == 3


def test_a_sign_of_life_that_cannot_be_noted_keeps_nobody_from_reading(practice: Practice) -> None:
    """The log-in was last seen two minutes ago, so that each page would note it anew."""
    who = log_in(practice, minutes_ago=2)
    with (
        serving(practice.store.folder, first=SHORTER) as server,
        who.client(server) as client,
        held(practice.store.folder),
    ):
        page = client.get("/templates", follow_redirects=False)

    assert page.status_code == 200


def recorded_ids(practice: Practice) -> list[str]:
    """The exposures while the database is held: a reader does not wait."""
    from app.storage.database import Store
    from app.storage.series import ExposureRow

    store = Store(practice.store.folder)
    with store.reading(practice.dentist.practice_id) as scope:
        found = [row.id for row in scope.all(scope.select(ExposureRow))]
    store.close()
    return found


def test_a_backup_is_made_while_another_process_holds_the_database(practice: Practice, tmp_path: Path) -> None:
    """It only reads, and readers do not wait."""
    from app.work.backups import back_up

    loaded(practice, a_series(practice))
    practice.store.close()
    with held(practice.store.folder):
        report = back_up(practice.store.folder, tmp_path / "backup")

    assert report.files == 2
    assert not report.has_findings
