"""Letters and messages: texts of the practice, filled for chosen patients, noted, and never sent."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest

from app.storage.recall import ContactNote, RecallItem
from app.work.imports_undo import TABLE_WORDS
from app.work.patients import register_patient
from tests.people import Practice, a_patient
from tests.web.client import Page, PageClient, words

TODAY = date.today()


def table(page: Page) -> list[list[str]]:
    return list(csv.reader(io.StringIO(page.text.removeprefix("\ufeff"), newline="")))


def a_text(client: PageClient, **changes: str) -> Page:
    values = {
        "kind": "letter",
        "title": "Recall",
        "subject": "At {practice}",
        "body": "Dear {name},\nplease call.",
    }
    return client.submit(client.get("/letters/texts/new"), "/letters/texts/new", values | changes)


def contacts(practice: Practice) -> list[tuple[str, str]]:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return [(each.outcome, each.note) for each in scope.all(scope.select(ContactNote))]


def someone(practice: Practice, name: str, number: str) -> str:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return register_patient(
            scope, practice.dentist, chart_number=number, name=name, birth_date="1984-03-27", today=TODAY
        ).id


def prepared(client: PageClient, *ids: str) -> Page:
    page = client.post("/letters/new", {"patient": list(ids)})
    text = str(page.find('input[name="text"]')["value"])
    return client.submit(page, "/letters/prepare", {"text": text})


def test_letters_for_chosen_patients_stand_on_a_sheet_each(front_desk: PageClient, practice: Practice) -> None:
    a_text(front_desk)
    page = prepared(front_desk, a_patient(practice).id, someone(practice, "Odo Farrant", "H7"))

    assert [words(each) for each in page.all(".letter-body")] == [
        "Dear Ada Merriweather-Stone, please call.",
        "Dear Odo Farrant, please call.",
    ]
    assert words(page.find(".letter-sheet h2")) == "At Heron Lane"
    assert "this program sends nothing" in page.text


def test_preparing_is_noted_once_a_day_for_each_patient(front_desk: PageClient, practice: Practice) -> None:
    a_text(front_desk)
    patient = a_patient(practice).id
    prepared(front_desk, patient)
    prepared(front_desk, patient)

    assert contacts(practice) == [("letter", "letter prepared: Recall")]


def test_a_whole_part_of_the_recall_list_can_be_written_to(front_desk: PageClient, practice: Practice) -> None:
    a_text(front_desk)
    someone(practice, "Odo Farrant", "H7")
    lists = {
        when: [words(each) for each in front_desk.get(f"/letters/new?when={when}").all("tbody th")]
        for when in ("overdue", "due", "soon", "later", "booked", "held", "none")
    }

    assert [names for names in lists.values() if names] == [["Odo Farrant H7"]]


def test_looking_at_the_choice_notes_nothing(front_desk: PageClient, practice: Practice) -> None:
    a_text(front_desk)
    front_desk.post("/letters/new", {"patient": [a_patient(practice).id]})

    assert contacts(practice) == []


def test_the_merge_table_holds_the_filled_text_and_cannot_run(front_desk: PageClient, practice: Practice) -> None:
    a_text(front_desk, body='Dear {name}, "quoted"; {chart_number}')
    page = prepared(front_desk, someone(practice, "=HYPERLINK(0)", "@7"))
    rows = table(front_desk.get(str(page.find('a[href^="/letters/merge.csv"]')["href"])))

    assert rows[1][:2] == ["'@7", "'=HYPERLINK(0)"]
    assert rows[1][-1] == 'Dear =HYPERLINK(0), "quoted"; @7'


def test_a_name_with_markup_stands_as_it_is(front_desk: PageClient, practice: Practice) -> None:
    a_text(front_desk, body="{name}")
    page = prepared(front_desk, someone(practice, "<b>{practice}</b>", "H8"))

    assert words(page.find(".letter-body")) == "<b>{practice}</b>"


def test_a_text_that_names_a_day_due_is_refused_for_those_without(
    front_desk: PageClient, practice: Practice
) -> None:
    a_text(front_desk, body="Due in {due_month}")
    patient = someone(practice, "Odo Farrant", "H7")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for item in scope.all(scope.select(RecallItem)):
            item.due_on = None
            scope.session.add(item)
    page = prepared(front_desk, patient)

    assert page.status == 422
    assert page.error_at("text").startswith("it names a day due, and there is none for Odo Farrant.")
    assert contacts(practice) == []


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("body", "Dear {nmae}", 'line 1: "{nmae}" is not known. Did you mean "name"?'),
        ("body", "", "this is empty. Write the text"),
        ("body", "x" * 4001, "this has 4001 characters; 4000 are the most"),
        ("subject", "{", "line 1: a curly bracket stands alone"),
        ("title", "", "this is empty. Fill it in"),
        ("kind", "pigeon", "choose letter, e-mail or text message"),
    ],
)
def test_a_text_that_cannot_be_kept_is_told_at_its_field(
    front_desk: PageClient, field: str, value: str, message: str
) -> None:
    page = a_text(front_desk, **{field: value})

    assert page.status == 422
    assert page.error_at(field).startswith(message)


def test_two_texts_of_one_title_are_refused(front_desk: PageClient) -> None:
    a_text(front_desk)

    assert a_text(front_desk).error_at("title").startswith('there is a text "Recall" already')


def test_a_text_is_edited_retired_and_put_back(front_desk: PageClient) -> None:
    a_text(front_desk)
    address = str(front_desk.get("/letters").find("tbody a")["href"])
    front_desk.submit(front_desk.get(address), address, {"title": "Recall letter"})
    gone = front_desk.submit(front_desk.get("/letters"), f"{address}/retire")
    back = front_desk.submit(gone, f"{address}/retire")

    assert "There is no text yet." in gone.text
    assert words(back.find("tbody th")) == "Recall letter"


def test_the_examples_can_be_kept_and_filled(front_desk: PageClient, practice: Practice) -> None:
    page = front_desk.submit(front_desk.get("/letters"), "/letters/texts/examples")

    assert len(page.all("tbody tr")) == 3


def test_nobody_chosen_says_where_to_choose(assistant: PageClient) -> None:
    page = assistant.post("/letters/new")

    assert page.status == 422
    assert page.errors() == ["nobody is chosen. Go to the recall list, and write to a part of it"]


def test_the_patients_table_can_be_imported_again_without_effect(
    front_desk: PageClient, practice: Practice
) -> None:
    from tests.work.import_files import planned, staged

    a_patient(practice)
    someone(practice, 'Odo, "the" Farrant', "+7")
    data = front_desk.get("/exports/patients.csv").response.content

    plan = planned(practice, staged(practice, data), today=TODAY)
    assert (plan.new, plan.changed) == ([], [])
    assert (plan.unchanged, plan.bad) == (2, [])


def test_the_recall_table_holds_the_patient_with_phone_and_due_date(
    front_desk: PageClient, practice: Practice
) -> None:
    someone(practice, "=Odo", "H7")
    found = [
        row
        for when in ("overdue", "due", "soon", "later", "booked", "held", "none")
        for row in table(front_desk.get(f"/exports/recall.csv?when={when}"))[1:]
    ]

    assert [row[:2] for row in found] == [["H7", "'=Odo"]]


def test_an_assistant_may_not_export(assistant: PageClient) -> None:
    assert assistant.get("/exports/patients.csv").status == 403
    assert assistant.get("/exports/recall.csv").status == 403


def test_every_table_that_an_undo_may_meet_has_its_words() -> None:
    from sqlmodel import SQLModel

    pointing = {
        name
        for name, each in SQLModel.metadata.tables.items()
        if any(key.column.table.name == "patient" for key in each.foreign_keys)
    }

    assert pointing - {"recall_item"} == set(TABLE_WORDS)
