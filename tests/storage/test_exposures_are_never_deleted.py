"""An exposure was radiation: whatever asks for it, the database keeps its row."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from app.storage.series import ExposureRow
from tests.making import a_series, loaded
from tests.people import Practice, a_patient


def kept(practice: Practice) -> list[str]:
    """The ids of every exposure in the database."""
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return [row.id for row in scope.all(scope.select(ExposureRow))]


def test_a_delete_is_refused_by_the_database_itself(either: Practice) -> None:
    exposure = loaded(either, a_series(either))

    with (
        pytest.raises(DBAPIError, match="an exposure is never deleted"),
        either.store.engine.begin() as connection,
    ):
        connection.execute(text("DELETE FROM exposure"))

    assert kept(either) == [exposure.id]


def test_a_delete_through_the_session_is_refused(either: Practice) -> None:
    exposure = loaded(either, a_series(either))

    with (
        pytest.raises(DBAPIError, match="an exposure is never deleted"),
        either.store.writing(either.dentist.practice_id) as scope,
    ):
        scope.session.delete(scope.get(ExposureRow, exposure.id, "image"))

    assert kept(either) == [exposure.id]


def test_nothing_that_an_exposure_stands_on_can_be_deleted(either: Practice) -> None:
    exposure = loaded(either, a_series(either))

    for table in ("series", "image", "patient", "staff", "practice"):
        with pytest.raises(DBAPIError), either.store.engine.begin() as connection:
            connection.execute(text(f"DELETE FROM {table}"))
        assert kept(either) == [exposure.id]


def test_an_exposure_keeps_its_series_its_image_and_its_position(either: Practice) -> None:
    patient = a_patient(either).id
    exposure = loaded(either, a_series(either, patient_id=patient), 1)
    other = loaded(either, a_series(either, "adult-20", patient_id=patient), 2)
    changes = [f"series_id = '{other.series_id}'", f"image_id = '{other.image_id}'", "position = 7"]

    for change in changes:
        with (
            pytest.raises(DBAPIError, match="an exposure keeps its series, image and position"),
            either.store.engine.begin() as connection,
        ):
            connection.execute(text(f"UPDATE exposure SET {change} WHERE id = '{exposure.id}'"))


@pytest.mark.parametrize("empty", ["sqlite"], indirect=True)
def test_a_row_is_not_replaced_by_another(either: Practice) -> None:
    """SQLite's REPLACE deletes without telling a trigger, unless triggers are recursive."""
    exposure = loaded(either, a_series(either))

    with (
        pytest.raises(DBAPIError, match="an exposure is never deleted"),
        either.store.engine.begin() as connection,
    ):
        connection.execute(text("INSERT OR REPLACE INTO exposure SELECT * FROM exposure"))

    assert kept(either) == [exposure.id]


@pytest.mark.parametrize("empty", ["postgresql"], indirect=True)
def test_the_table_cannot_be_emptied_at_once(either: Practice) -> None:
    """PostgreSQL's TRUNCATE passes over row triggers."""
    exposure = loaded(either, a_series(either))

    with (
        pytest.raises(DBAPIError, match="an exposure is never deleted"),
        either.store.engine.begin() as connection,
    ):
        connection.execute(text("TRUNCATE exposure CASCADE"))

    assert kept(either) == [exposure.id]
