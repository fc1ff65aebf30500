"""A data folder of the first version, and of each later one, is brought up to date and says what it said before.

`first_version` was written by the program of revision 0001 itself, through its use cases: the rows as SQL, the
image files, and the audit that it gave of each series (`said.json`). One series is open, with an image reviewed as
faulty, one not reviewed, one set aside, a target exempt and a retake ordered; one was closed complete, one
incomplete.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, Table, inspect, text
from sqlalchemy.exc import DatabaseError

from app.exchange.audit_report import audit_report
from app.settings import Settings
from app.storage.database import Store
from app.storage.migrations.run import NewerDatabase, configuration, migrate, newest_revision, revision_of
from app.storage.people import Staff
from app.storage.series import ExposureRow, ImageRow, SeriesRow, SignOff
from app.web.application import create_application
from app.work.audit_series import audit_of
from tests.people import PASSWORD, hash_lightly
from tests.storage.rows_of_any_table import CHAINED, a_row_in_each
from tests.web.client import PageClient, running

FIRST = Path(__file__).parent / "first_version"
SAID: dict[str, Any] = json.loads((FIRST / "said.json").read_text())
ROOT = Path(__file__).resolve().parents[2]
Rows = dict[str, list[dict[str, Any]]]


def revisions() -> list[str]:
    """Every revision but the newest, oldest first."""
    folder = ScriptDirectory(str(ROOT / "app" / "storage" / "migrations"))
    return [each.revision for each in folder.walk_revisions()][::-1][:-1]


@pytest.fixture
def old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """A data folder as the first version left it."""
    hash_lightly(monkeypatch)
    folder = tmp_path / "data"
    shutil.copytree(FIRST / "images", folder / "images")
    connection = sqlite3.connect(folder / "fullcount.sqlite3")
    connection.executescript((FIRST / "rows.sql").read_text())
    connection.close()
    store = Store(folder, durable=False)
    yield store
    store.close()


def rows(store: Store) -> Rows:
    """Every row of every table, as the driver gives it."""
    with store.engine.connect() as connection:
        return {
            table: [
                dict(each) for each in connection.execute(text(f"select * from {table} order by 1")).mappings()
            ]
            for table in inspect(connection).get_table_names()
            if table != "alembic_version"
        }


def lost_or_changed(before: Rows, after: Rows) -> list[str]:
    """What no longer says what it said; tables and columns that came since say nothing new about it."""
    told = []
    for table, old_rows in before.items():
        by_id = {each.get("id"): each for each in after.get(table, [])}
        for row in (each for each in old_rows if "id" in each):
            now = by_id.get(row["id"])
            told += (
                [f"{table} {row['id']} is gone"]
                if now is None
                else [
                    f"{table}.{name} was {value!r}, is {now[name]!r}"
                    for name, value in row.items()
                    if name in now and now[name] != value
                ]
            )
    return told


def practice_of(store: Store) -> str:
    with store.reading() as scope:
        found = scope.session.connection().execute(text("select practice_id from staff where login = 'tomke'"))
        return str(found.scalar_one())


def test_every_row_of_the_first_version_says_the_same(old: Store) -> None:
    before = rows(old)
    old.migrate()

    assert revision_of(old.engine) == newest_revision()
    assert sum(map(len, before.values())) >= 30
    assert lost_or_changed(before, rows(old)) == []


def test_a_change_would_be_noticed(old: Store) -> None:
    before = rows(old)
    old.migrate()
    with old.engine.begin() as connection:
        connection.execute(text("update patient set name = 'Somebody Else' where chart_number = 'H200'"))
        connection.execute(text("delete from login_session"))

    told = lost_or_changed(before, rows(old))
    assert [each.split()[0] for each in told] == ["login_session", "patient.name"]


def test_the_audit_of_every_series_says_what_the_first_version_said(old: Store) -> None:
    old.migrate()
    with old.reading(practice_of(old)) as scope:
        now = {row.id: audit_report(audit_of(scope, row.id).audit) for row in scope.all(scope.select(SeriesRow))}

    assert json.loads(json.dumps(now)) == SAID
    assert sorted(each["verdict"] for each in now.values()) == ["complete", "incomplete", "incomplete"]


def test_what_closing_a_series_said_is_kept(old: Store) -> None:
    old.migrate()
    with old.reading(practice_of(old)) as scope:
        closed = {each.series_id: each for each in scope.all(scope.select(SignOff))}

    assert len(closed) == 2
    assert {key: each.audit for key, each in closed.items()} == {key: SAID[key] for key in closed}
    assert {each.reason for each in closed.values()} == {"", "the patient cannot bear more"}


def test_every_image_is_the_one_recorded(old: Store) -> None:
    old.migrate()
    with old.reading(practice_of(old)) as scope:
        images = scope.all(scope.select(ImageRow))

    assert len(images) == 8
    assert [len(old.images.read(each.sha256)) for each in images] == [each.byte_count for each in images]


def test_an_exposure_of_the_first_version_still_cannot_be_deleted(old: Store) -> None:
    old.migrate()

    with pytest.raises(DatabaseError, match="never deleted"), old.engine.begin() as connection:
        connection.execute(text("delete from exposure"))


def test_the_application_starts_on_it_and_people_go_on_working(old: Store) -> None:
    """The application itself migrates; the people of the first version log in with their passwords."""
    application = create_application(Settings(data_folder=old.folder, image_workers=0))
    with running([application]) as portal:
        assistant = PageClient(portal, application)
        assistant.log_in("tomke", PASSWORD)
        pages = {key: assistant.get(f"/series/{key}") for key in SAID}
        records = {key: assistant.get(f"/series/{key}/record") for key in SAID}
        with old.reading(practice_of(old)) as scope:
            images = [each.sha256 for each in scope.all(scope.select(ImageRow))]
            reviewed = next(each for each in scope.all(scope.select(ExposureRow)) if each.view)
        shown = [assistant.get(f"/images/{each}").status for each in images]
        review = assistant.get(f"/exposures/{reviewed.id}/review")
        assistant.close()

    assert {each.status for each in (*pages.values(), *records.values())} == {200}
    assert set(shown) == {200}
    assert review.status == 200
    assert any("the patient cannot bear more" in each.text for each in records.values())


def test_whoever_was_a_dentist_administers_still(old: Store) -> None:
    old.migrate()
    with old.reading(practice_of(old)) as scope:
        people = {each.login: (each.role, each.administers) for each in scope.all(scope.select(Staff))}

    assert people == {
        "wilna": ("dentist", True),
        "tomke": ("assistant", False),
        "pell": ("front_desk", False),
    }


@pytest.mark.parametrize("revision", revisions()[1:])
def test_rows_of_every_later_version_say_the_same(old: Store, revision: str) -> None:
    """The rows of the first version, and at least one in each table that came since."""
    migrate(old.engine, revision)
    tables = MetaData()
    tables.reflect(old.engine)
    a_row_in_each(old.engine, tables)
    before = rows(old)
    old.migrate()

    assert [name for name, each in before.items() if not each and name not in CHAINED] == []
    assert lost_or_changed(before, rows(old)) == []


FIRST_TABLES = frozenset(
    line.split('"')[1] if '"' in line.split("(")[0] else line.split()[2]
    for line in (FIRST / "rows.sql").read_text().splitlines()
    if line.startswith("CREATE TABLE")
)


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.glob("fullcount.sqlite3*") if "-shm" not in file.name}


def of_the_future(old: Store) -> dict[str, bytes]:
    """The database as a later version may leave it."""
    old.migrate()
    with old.engine.begin() as connection:
        connection.execute(text("update alembic_version set version_num = '9001'"))
        connection.execute(text("create table tomorrow (id integer)"))
    old.close()
    return bytes_of(old.folder)


def test_a_database_of_a_later_version_is_refused_and_not_touched(old: Store) -> None:
    before = of_the_future(old)
    again = Store(old.folder)
    with pytest.raises(NewerDatabase, match=r'revision "9001".*does not know.*Nothing was changed'):
        again.migrate()
    again.close()

    assert bytes_of(old.folder) == before


def test_the_server_does_not_start_on_it(old: Store) -> None:
    before = of_the_future(old)
    ended = serve(old.folder)

    assert ended.returncode == 2
    assert ended.stderr.startswith('the database stands at revision "9001"')
    assert "Traceback" not in ended.stderr
    assert bytes_of(old.folder) == before


def serve(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "app", "serve", "--port", "0"],
        cwd=ROOT,
        env={**os.environ, "FULLCOUNT_DATA_FOLDER": str(folder)},
        capture_output=True,
        text=True,
        timeout=60,
    )


def test_a_migration_that_fails_half_way_changes_nothing(old: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """All revisions are one transaction: what was there before is there after."""
    before = rows(old)
    with old.engine.begin() as connection:
        # In the way of a table of revision 0007.
        connection.execute(text("create table patient_import (id integer)"))
    with pytest.raises(DatabaseError):
        old.migrate()

    assert revision_of(old.engine) == "0001"
    assert {name: each for name, each in rows(old).items() if name != "patient_import"} == before


def test_the_configuration_of_migrations_is_that_of_the_program(old: Store) -> None:
    assert ScriptDirectory.from_config(configuration(old.engine)).get_current_head() == newest_revision()


def test_tables_are_reflected_whole(old: Store) -> None:
    """Else the rows above would stand in too few tables."""
    tables = MetaData()
    tables.reflect(old.engine)

    assert set(tables.tables) - {"alembic_version"} == set(FIRST_TABLES) - {"alembic_version"}
    assert isinstance(tables.tables["exposure"], Table)
