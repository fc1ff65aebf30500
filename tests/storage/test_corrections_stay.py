"""A correction is only ever added: the database refuses anything else, on both kinds."""

from __future__ import annotations

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from app.storage.privacy import Correction
from tests.people import Practice, a_patient
from tests.work.test_corrections import correct


@pytest.mark.parametrize("deed", ["UPDATE correction SET reason = 'x'", "DELETE FROM correction"])
def test_the_database_itself_keeps_corrections(either: Practice, deed: str) -> None:
    patient = a_patient(either)
    correct(either, patient.id, name="Ada Stone", reason="married")

    with (
        pytest.raises(DBAPIError, match="a correction stays as it was recorded"),
        either.store.engine.begin() as c,
    ):
        c.execute(text(deed))

    with either.store.reading(either.dentist.practice_id) as scope:
        (row,) = scope.all(scope.select(Correction))
        assert row.before == {"value": "Ada Merriweather-Stone"}
