"""No transaction writes anything, in whatever way, without an entry that says which rows."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from datetime import date, time
from typing import Any

import pytest
from sqlalchemy import (
    JSON,
    Boolean,
    Date,
    DateTime,
    Float,
    Integer,
    LargeBinary,
    Table,
    Time,
    delete,
    insert,
    select,
    text,
    update,
)
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel

from app.storage.columns import now
from app.storage.people import LoginSession, Patient, Staff
from app.storage.practice_scope import PracticeScope
from app.storage.recall import RecallItem
from app.storage.series import ExposureRow
from app.storage.trail_noise import NOISE
from app.work import log_ins
from app.work.review import review_exposure
from tests.making import a_series, loaded
from tests.people import PASSWORD, Practice, a_patient
from tests.storage.trail_rows import changes, entries

TABLES = sorted(SQLModel.metadata.tables)
NOTED = [name for name in TABLES if name not in NOISE or NOISE[name].only or NOISE[name].but_not]

KEPT = ("exposure", "correction", "erasure")
"""The database refuses to take out a row of these."""


def a_row(table: Table, practice: str) -> dict[str, Any]:
    """Some row of any table; keys lead nowhere, which the test lets pass."""
    values = {column.name: a_value(column.type) for column in table.columns}
    return values | {"id": "row-1"} | ({"practice_id": practice} if "practice_id" in table.c else {})


def a_value(kind: Any) -> Any:
    """A dull value of a column's type."""
    kind = kind.impl_instance if isinstance(kind, TypeDecorator) else kind
    known = ((DateTime, now()), (Date, date(2026, 1, 2)), (Boolean, False), (Float, 1.0), (Integer, 1))
    known += ((LargeBinary, b"x"), (JSON, {}), (Time, time(8)))
    return next((value for each, value in known if isinstance(kind, each)), "x")


class Undone(Exception):
    """Ends a transaction after what it noted was looked at."""


def noted_of(practice: Practice, job: Callable[[PracticeScope], object]) -> list[dict[str, Any]]:
    """What a transaction would leave in the trail; it is undone afterwards, so its rows may lead nowhere."""
    found: list[dict[str, Any]] = []
    with suppress(Undone), practice.store.writing(practice.dentist.practice_id) as scope:
        connection = scope.session.connection()
        connection.exec_driver_sql("PRAGMA ignore_check_constraints = ON")
        connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        job(scope)
        scope.session.flush()
        found += scope.session.info["trail"].log.as_details()
        raise Undone
    return found


def put(scope: PracticeScope, table: Table) -> None:
    """A row by a bulk statement."""
    scope.session.execute(insert(table), [a_row(table, scope.practice_id)])


@pytest.mark.parametrize("name", NOTED)
def test_a_row_of_any_table_put_in_is_noted(practice: Practice, name: str) -> None:
    if NOISE.get(name) is not None and NOISE[name].but_not:
        pytest.skip("only some of its columns are a person's deed; see below")
    table = SQLModel.metadata.tables[name]

    assert noted_of(practice, lambda scope: put(scope, table)) == [
        {"table": name, "operation": "insert", "rows": ["row-1"]}
    ]


@pytest.mark.parametrize("name", [each for each in NOTED if each != "correction"])
def test_a_row_of_any_table_changed_is_noted_with_its_columns(practice: Practice, name: str) -> None:
    table = SQLModel.metadata.tables[name]
    noise = NOISE.get(name)
    column = sorted(noise.but_not)[0] if noise and noise.but_not else [*table.c.keys()][-1]

    def change(scope: PracticeScope) -> None:
        put(scope, table)
        value = a_row(table, scope.practice_id)[column]
        scope.session.execute(update(table).where(table.c.id == "row-1").values({column: value}))

    if name == "exposure":
        pytest.skip("refuses the change of some columns; reviewed below")
    assert {"table": name, "operation": "update", "rows": ["row-1"], "columns": [column]} in noted_of(
        practice, change
    )


@pytest.mark.parametrize("name", [each for each in NOTED if each not in KEPT])
def test_a_row_of_any_table_taken_out_is_noted(practice: Practice, name: str) -> None:
    if NOISE.get(name) is not None and NOISE[name].but_not:
        pytest.skip("lines worked out by the program")
    table = SQLModel.metadata.tables[name]

    def take_out(scope: PracticeScope) -> None:
        put(scope, table)
        scope.session.execute(delete(table).where(table.c.id == "row-1"))

    assert {"table": name, "operation": "delete", "rows": ["row-1"]} in noted_of(practice, take_out)


@pytest.mark.parametrize("name", sorted(NOISE))
def test_every_table_passed_over_exists_and_has_its_reason(name: str) -> None:
    noise = NOISE[name]

    assert noise.why
    assert noise.only | noise.but_not <= set(SQLModel.metadata.tables[name].c.keys())


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE patient SET phone = '1'", ("patient", "plain update")),
        ("delete from room", ("room", "plain delete")),
        ("WITH some AS (SELECT id FROM room) DELETE FROM room WHERE id IN some", ("room", "plain with")),
        ("REPLACE INTO room SELECT * FROM room", ("room", "plain replace")),
        ("CREATE TABLE beside (x INTEGER)", ("beside", "plain create")),
    ],
)
@pytest.mark.parametrize("way", ["text", "driver"])
def test_plain_sql_is_noted_too(practice: Practice, statement: str, said: tuple[str, str], way: str) -> None:
    def do(scope: PracticeScope) -> None:
        connection = scope.session.connection()
        if way == "text":
            connection.execute(text(statement))
        else:
            connection.exec_driver_sql(statement)

    found = noted_of(practice, do)

    assert [(each["table"], each["operation"]) for each in found] == [said]


def test_a_transaction_that_only_reads_leaves_nothing(practice: Practice) -> None:
    before = len(entries(practice.store))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        scope.all(scope.select(Patient))

    assert len(entries(practice.store)) == before


def test_a_sign_of_life_is_not_noted_but_the_end_of_a_log_in_is(practice: Practice) -> None:
    token = log_ins.log_in(practice.store, login="wilna", password=PASSWORD).token
    before = len(entries(practice.store))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for row in scope.all(scope.select(LoginSession)):
            row.last_seen_at = now()
            scope.session.add(row)
    quiet = len(entries(practice.store))
    log_ins.log_out(practice.store, token)

    assert quiet == before
    assert [(each.kind, each.who) for each in entries(practice.store)[before:]] == [
        ("log_out", practice.dentist.staff_id)
    ]


def test_a_recall_line_worked_out_anew_is_not_noted_but_a_claim_is(either: Practice) -> None:
    either_id = either.dentist.practice_id
    patient = a_patient(either)
    before = len(entries(either.store))
    with either.store.writing(either_id) as scope:
        scope.session.execute(update(RecallItem).values(because="risk"))
        scope.session.execute(update(RecallItem).values(claimed_by=either.dentist.staff_id))
    (entry,) = entries(either.store)[before:]

    assert [each["columns"] for each in changes(entry)] == [["claimed_by"]]
    assert entry.patient_id == patient.id


def test_a_review_says_rows_and_columns_and_whom_it_is_about(either: Practice) -> None:
    series = a_series(either)
    exposure = loaded(either, series, slot="UR-molar")
    before = len(entries(either.store))
    with either.store.writing(either.dentist.practice_id) as scope:
        review_exposure(scope, either.dentist, exposure.id, shortfalls=[{"code": "overlap"}])
    (entry,) = entries(either.store)[before:]
    found = {(each["table"], each["operation"]): each for each in changes(entry)}

    assert found["exposure", "update"]["rows"] == [exposure.id]
    assert {"reviewed", "reviewed_by", "shortfalls"} <= set(found["exposure", "update"]["columns"])
    assert (entry.patient_id, entry.series_id) == (series.patient_id, series.id)


def test_no_value_of_any_column_stands_in_the_trail(practice: Practice) -> None:
    patient = a_patient(practice, chart_number="H-4711-Q")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.get(Patient, patient.id, "patient")
        row.name, row.phone = "Zenobia Quillfeather", "555-0199"
        scope.session.add(row)
    kept = json.dumps([each.model_dump(mode="json") for each in entries(practice.store)])

    assert patient.id in kept
    for value in ("Merriweather", "Zenobia", "555-0199", "H-4711-Q", "1984-05-06", PASSWORD):
        assert value not in kept


def test_rows_that_a_bulk_statement_reaches_are_named(either: Practice) -> None:
    ids = sorted(a_patient(either, chart_number=f"B{n}").id for n in range(3))
    table = SQLModel.metadata.tables["patient"]
    before = len(entries(either.store))
    with either.store.writing(either.dentist.practice_id) as scope:
        scope.session.execute(update(table).where(table.c.chart_number != "B9").values(phone=table.c.email))
    (entry,) = entries(either.store)[before:]
    (change,) = changes(entry)

    assert (sorted(change["rows"]), change["columns"]) == (ids, ["phone"])


def test_an_undone_transaction_leaves_nothing(practice: Practice) -> None:
    before = [each.hash for each in entries(practice.store)]
    with suppress(Undone), practice.store.writing(practice.dentist.practice_id) as scope:
        scope.add(Staff(name="x", login="xx", role="dentist", password_hash=""))
        raise Undone

    assert [each.hash for each in entries(practice.store)] == before


def test_a_reading_scope_does_not_write(practice: Practice) -> None:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        scope.session.add(Staff(name="x", login="xx", role="dentist", password_hash="", practice_id="x"))
        with pytest.raises(TypeError, match="a reading scope does not commit"):
            scope.session.commit()


def test_loading_an_image_says_the_exposure(practice: Practice) -> None:
    before = len(entries(practice.store))
    exposure = loaded(practice, a_series(practice), slot="UR-molar")
    made = [change for each in entries(practice.store)[before:] for change in changes(each)]

    assert {"table": "exposure", "operation": "insert", "rows": [exposure.id]} in made
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert scope.session.execute(select(ExposureRow.id)).scalar() == exposure.id
