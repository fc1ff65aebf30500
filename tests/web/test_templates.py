"""Templates: read, copied, edited slot by slot; series keep what they began with."""

from __future__ import annotations

import pytest

from app.exchange.shared_data import BUILTIN_IDS, builtin_templates
from app.storage.series import SeriesRow
from app.work.templates import choosable_templates
from tests.making import a_series
from tests.people import Practice
from tests.web.client import PageClient, words


def copied(client: PageClient, key: str = "bitewings-4") -> str:
    """A copy, and its key."""
    page = client.submit(client.get(f"/templates/{key}"), f"/templates/{key}/copy", {"title": "Our bitewings"})
    assert page.h1 == "Edit Our bitewings"
    return "our-bitewings"


def kept(practice: Practice, key: str):
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return choosable_templates(scope)[key]


@pytest.mark.parametrize("key", BUILTIN_IDS)
def test_every_built_in_template_can_be_read(dentist: PageClient, key: str) -> None:
    page = dentist.get(f"/templates/{key}")

    assert page.h1 == builtin_templates()[key].title
    assert len(page.all("article")) == len(builtin_templates()[key].slots)


def test_a_slot_sent_back_untouched_shows_what_it_showed(dentist: PageClient, practice: Practice) -> None:
    """For every slot of every built-in template."""
    for key in BUILTIN_IDS:
        title = f"Copy of {key}"
        page = dentist.submit(dentist.get(f"/templates/{key}"), f"/templates/{key}/copy", {"title": title})
        own = page.path.split("/")[2]
        for slot in builtin_templates()[key].slots[:3]:
            address = f"/templates/{own}/slots/{slot.id}"
            dentist.submit(dentist.get(address), address)
            after = kept(practice, own).slot(slot.id)

            assert set(after.shows) == set(slot.shows)
            assert (after.kind, after.receptor, after.burden) == (slot.kind, slot.receptor, slot.burden)
            assert (after.required, after.projection, after.title) == (slot.required, slot.projection, slot.title)


def test_ticks_and_text_together_say_what_a_slot_shows(dentist: PageClient, practice: Practice) -> None:
    key = copied(dentist)
    address = f"/templates/{key}/slots/new"
    values = {
        "id": "X-one",
        "title": "Extra",
        "shows": ["crown:11", "apex:11:*"],
        "others": "apex:16:MB\ncontact:17-15",
    }

    page = dentist.submit(dentist.get(address), address, values)

    assert page.path.startswith(f"/templates/{key}/edit")
    assert kept(practice, key).slot("X-one").shows == ("crown:11", "apex:11:*", "apex:16:MB", "contact:17-15")


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("others", "crown:11\ncrown:99", 'line 2: no tooth "99".'),
        ("others", "", "a view that shows nothing has no use. Tick what it shows"),
        ("burden", "0", "0.0 is not a burden. Write a number above 0, like 1.0"),
        ("burden", "much", '"much" is not a number. Write one above 0, like 1'),
        ("burden", "nan", "nan is not a burden"),
        ("id", "", "a slot needs a name, like UR-molar"),
        ("id", "BW-R-molar", 'there is a slot "BW-R-molar" already'),
        ("id", "a/b", '"a/b" cannot be an id. Write it like UR-molar'),
        ("kind", "panoramic", 'no kind of projection "panoramic"'),
        ("size", "7", "no receptor size 7"),
        ("orientation", "upright", 'no orientation "upright"'),
    ],
)
def test_a_wrong_slot_is_told_at_its_field_and_not_kept(
    dentist: PageClient, practice: Practice, field: str, value: str, message: str
) -> None:
    key = copied(dentist)
    before = kept(practice, key)
    address = f"/templates/{key}/slots/new"
    values = {"id": "X-one", "title": "Extra", "others": "crown:11", field: value}

    page = dentist.submit(dentist.get(address), address, values)

    assert page.status == 422
    assert page.error_at(field).startswith(message)
    assert kept(practice, key) == before


def test_an_edited_template_never_changes_an_old_series(dentist: PageClient, practice: Practice) -> None:
    key = copied(dentist)
    series = a_series(practice, key)
    before = dict(series.template)
    dentist.submit(dentist.get(f"/templates/{key}/edit"), f"/templates/{key}/slots/BW-R-molar/remove")

    with practice.store.reading(practice.dentist.practice_id) as scope:
        after = scope.get(SeriesRow, series.id, "series").template

    assert not kept(practice, key).has_slot("BW-R-molar")
    assert after == before


def test_slots_are_moved_one_place(dentist: PageClient, practice: Practice) -> None:
    key = copied(dentist)
    first, second = (slot.id for slot in kept(practice, key).slots[:2])

    dentist.post(f"/templates/{key}/slots/{second}/move", {"to": "earlier"})

    assert [slot.id for slot in kept(practice, key).slots[:2]] == [second, first]


def test_a_built_in_template_cannot_be_edited(dentist: PageClient) -> None:
    page = dentist.get("/templates/adult-18/edit")

    assert page.status == 404
    assert "copy it first" in page.text


def test_an_assistant_reads_templates_but_gets_no_forms(assistant: PageClient) -> None:
    page = assistant.get("/templates/adult-18")

    assert page.all("main form") == []


def test_a_retired_template_is_off_the_list_of_new_series(dentist: PageClient, practice: Practice) -> None:
    key = copied(dentist)
    dentist.submit(dentist.get(f"/templates/{key}"), f"/templates/{key}/retire")

    page = dentist.get("/templates")

    assert "off the list" in words(page.find("tbody"))
    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert key not in choosable_templates(scope)
