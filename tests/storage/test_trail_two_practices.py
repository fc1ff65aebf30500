"""Two practices in one database: the trail of one tells nothing to the other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.core.errors import InputError
from app.storage.practice_scope import NotFound
from app.storage.trail_notes import Note
from app.work.actor import Actor
from app.work.trail import TrailFilter, read_trail, trail_csv, viewers_of
from tests.people import Practice, a_patient
from tests.storage.trail_rows import entries


def administering(practice: Practice) -> Actor:
    """The stranger, who administers their own practice."""
    return replace(practice.stranger, administers=True)


def test_an_administrator_reads_their_own_practice_and_what_belongs_to_none(practice: Practice) -> None:
    a_patient(practice)
    practice.store.trail.note(Note(kind="start", what="the server started"))
    practice.store.trail.note(Note(kind="export", what="theirs", practice_id=practice.stranger.practice_id))
    actor = administering(practice)
    with practice.store.reading(practice.stranger.practice_id) as scope:
        page = read_trail(scope, actor, TrailFilter())

    assert {each.practice_id for each in page.entries} == {practice.stranger.practice_id, ""}
    assert {"theirs", "the server started"} <= {each.what for each in page.entries}
    assert practice.dentist.staff_id not in page.people


def test_an_export_holds_no_entry_of_the_other_practice(practice: Practice) -> None:
    a_patient(practice)
    text = b"".join(trail_csv(practice.store, administering(practice), TrailFilter())).decode()
    own = [each for each in entries(practice.store) if each.practice_id != practice.dentist.practice_id]

    assert practice.dentist.practice_id not in text
    assert len(text.splitlines()) == 1 + len(own)


def test_a_patient_of_the_other_practice_is_not_there(practice: Practice) -> None:
    patient = a_patient(practice, chart_number="H77")
    with practice.store.reading(practice.stranger.practice_id) as scope:
        with pytest.raises(NotFound):
            viewers_of(scope, practice.stranger, patient.id)
        with pytest.raises(InputError, match='no patient has the chart number "H77"'):
            read_trail(scope, administering(practice), TrailFilter(chart="H77"))
