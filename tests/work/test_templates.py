"""A practice copies and edits templates; what was started keeps the template it began with."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.core.errors import InputError
from app.core.templates import Template
from app.exchange.shared_data import builtin_templates
from app.storage.practice import PracticeTemplate
from app.storage.series import SeriesRow
from app.work.audit_series import frozen_template
from app.work.templates import (
    choosable_templates,
    copy_template,
    own_templates,
    retire_template,
    save_template,
    template_of,
)
from tests.making import a_series
from tests.people import Practice, a_patient


def copied(practice: Practice, title: str = "Ours", key: str = "adult-18") -> PracticeTemplate:
    """A copy of a built-in template."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return copy_template(scope, practice.dentist, key, title)


def edited(practice: Practice, key: str) -> Template:
    """The template saved anew without its last required slot."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        before = template_of(scope, key)
        dropped = before.required_slots[-1].id
        after = replace(before, slots=tuple(slot for slot in before.slots if slot.id != dropped))
        save_template(scope, practice.dentist, key, after)
    return after


def test_a_copy_shows_what_its_original_shows(practice: Practice) -> None:
    row = copied(practice)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        copy = template_of(scope, row.key)
    assert copy.slots == builtin_templates()["adult-18"].slots
    assert (copy.id, copy.title, row.derived_from, row.version) == ("ours", "Ours", "adult-18", 1)


@pytest.mark.parametrize(
    ("title", "key"),
    [
        ("Ours", "ours"),
        ("  Größe für Ältere! ", "groe-fur-altere"),
        ("adult 18", "adult-18-2"),
        ("日本", "template"),
        ("../../x", "x"),
    ],
)
def test_a_copy_gets_a_plain_key_of_its_own(practice: Practice, title: str, key: str) -> None:
    assert copied(practice, title).key == key


def test_two_copies_of_one_title_have_two_keys(practice: Practice) -> None:
    assert [copied(practice).key for _ in range(3)] == ["ours", "ours-2", "ours-3"]


@pytest.mark.parametrize("title", ["", " ", "x" * 81, "a\nb"])
def test_a_copy_needs_a_title(practice: Practice, title: str) -> None:
    with pytest.raises(InputError, match=r"^title: "):
        copied(practice, title)


def test_an_edit_makes_a_new_version_and_keeps_the_old_one(practice: Practice) -> None:
    key = copied(practice).key
    after = edited(practice, key)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        (newest,) = own_templates(scope)
        every = scope.all(scope.select(PracticeTemplate).order_by(PracticeTemplate.version))
        assert template_of(scope, key).slots == after.slots
    assert [row.version for row in every] == [1, 2]
    assert len(every[0].body["slots"]) == len(every[1].body["slots"]) + 1
    assert (newest.version, newest.derived_from, newest.edited_by) == (2, "adult-18", practice.dentist.staff_id)


def test_an_old_series_keeps_the_template_it_began_with(practice: Practice) -> None:
    key = copied(practice).key
    old = a_series(practice, key)
    frozen = frozen_template(old)
    after = edited(practice, key)
    new = a_series(practice, key, patient_id=a_patient(practice, "H200").id)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        kept = frozen_template(scope.get(SeriesRow, old.id, "series"))
    assert kept == frozen
    assert len(kept.required_slots) == 18
    assert [slot.id for slot in frozen_template(new).slots] == [slot.id for slot in after.slots]


def test_a_retired_template_starts_no_series_until_it_is_put_back(practice: Practice) -> None:
    key = copied(practice).key
    patient = a_patient(practice).id
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retire_template(scope, practice.dentist, key, retired=True)
        offered = set(choosable_templates(scope))
    with pytest.raises(InputError, match='template: no template "ours"'):
        a_series(practice, key, patient_id=patient)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retire_template(scope, practice.dentist, key, retired=False)

    assert offered == set(builtin_templates())
    assert a_series(practice, key, patient_id=patient).template_key == key


def test_a_series_goes_on_after_its_template_was_retired(practice: Practice) -> None:
    key = copied(practice).key
    series = a_series(practice, key)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retire_template(scope, practice.dentist, key, retired=True)

        assert len(frozen_template(scope.get(SeriesRow, series.id, "series")).required_slots) == 18


@pytest.mark.parametrize("key", ["adult-18", "never-made"])
def test_only_ones_own_templates_are_edited_or_retired(practice: Practice, key: str) -> None:
    built_in = builtin_templates()["adult-18"]
    with practice.store.writing(practice.dentist.practice_id) as scope:
        with pytest.raises(InputError, match="is not a template of your own"):
            save_template(scope, practice.dentist, key, built_in)
        with pytest.raises(InputError, match="is not a template of your own"):
            retire_template(scope, practice.dentist, key, retired=True)


def test_an_edit_of_a_retired_template_leaves_it_retired(practice: Practice) -> None:
    row = copied(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        retire_template(scope, practice.dentist, row.key, retired=True)
        save_template(scope, practice.dentist, row.key, builtin_templates()["adult-20"])

        assert row.key not in choosable_templates(scope)
