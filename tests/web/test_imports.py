"""The pages on which a file of patients is handed in, mapped, checked, confirmed and undone; without scripts."""

from __future__ import annotations

import csv
import io

import pytest

from tests.people import Practice, a_patient
from tests.web.client import Page, PageClient, words
from tests.work.import_files import TWO


def hand_in(client: PageClient, data: str | bytes, name: str = "patients.csv") -> Page:
    raw = data.encode() if isinstance(data, str) else data
    return client.post("/imports", files={"file": (name, raw, "text/csv")})


def action(page: Page, end: str) -> str:
    return str(page.find(f'form[action$="{end}"]')["action"])


def sent(client: PageClient, page: Page, end: str, changes: dict[str, str] | None = None) -> Page:
    return client.submit(page, action(page, end), changes)


def tally(page: Page) -> list[str]:
    return [words(each) for each in page.all(".import-tally li")]


def test_from_a_file_to_patients_in_three_steps(front_desk: PageClient) -> None:
    columns = hand_in(front_desk, TWO)
    check = sent(front_desk, columns, "/columns")
    done = sent(front_desk, check, "/confirm")

    assert columns.h1 == "Columns of patients.csv"
    assert tally(check)[0] == "2 new patients"
    assert "The patients are imported." in done.text
    assert "Ode Farrant" in front_desk.get("/patients").text


def test_how_the_file_was_read_is_said_and_can_be_changed(front_desk: PageClient) -> None:
    page = hand_in(front_desk, "Nr;Name;Born\nH1;Zoë Müller;1984-03-27\n".encode("cp1252"))
    other = sent(front_desk, page, "/reading", {"encoding": "cp1251", "delimiter": ",", "has_header": "no"})

    assert "Read as Windows-1252 (western Europe), divided by semicolon" in words(page.find("summary"))
    assert "Read as Windows-1251 (Cyrillic), divided by comma" in words(other.find("summary"))
    assert words(other.find("thead")) == "Line column 1"


def test_an_encoding_that_cannot_be_is_told_at_the_field(front_desk: PageClient) -> None:
    page = hand_in(front_desk, "Nr;Name;Born\nH1;Zoë Müller;1984-03-27\n".encode("cp1252"))
    again = sent(front_desk, page, "/reading", {"encoding": "utf-8"})

    assert again.status == 422
    assert again.error_at("encoding").startswith("line 2: the byte 0xeb is not UTF-8")


def test_the_columns_are_guessed_and_a_wrong_choice_is_told(front_desk: PageClient) -> None:
    page = hand_in(front_desk, TWO)
    again = sent(front_desk, page, "/columns", {"phone": "1"})

    assert page.find("#f-birth_date option[selected]")["value"] == "2"
    assert again.error_at("phone") == 'the column "Name" is chosen for "Whole name" too. Choose another'
    assert again.find("#f-phone option[selected]")["value"] == "1"


def test_dates_that_read_both_ways_are_asked_with_nothing_chosen(front_desk: PageClient) -> None:
    page = sent(front_desk, hand_in(front_desk, "Nr,Name,Born\nA,Ode Farrant,3/4/1984\n"), "/columns")
    unanswered = sent(front_desk, page, "/dates")
    check = sent(front_desk, unanswered, "/dates", {"birth_date": "month_first"})

    assert page.h1 == "Dates of patients.csv"
    assert "3/4/1984 is 3 Apr 1984" in page.text
    assert page.all("input[checked]") == []
    assert unanswered.error_at("birth_date") == "choose how the dates of birth date are written"
    assert "4 Mar 1984" in check.text


def test_a_date_that_settles_the_column_is_shown(front_desk: PageClient) -> None:
    page = sent(front_desk, hand_in(front_desk, "Nr,Name,Born\nA,Ode,3/4/1984\nB,Ilka,27/4/1984\n"), "/columns")

    assert words(page.find(".import-dates")) == "Birth date: day first (line 3 says 27/4/1984)."


def test_every_bad_line_can_be_kept_as_csv(front_desk: PageClient) -> None:
    page = sent(front_desk, hand_in(front_desk, TWO + "N3,=1+1,1984-03-27,,,,\n"), "/columns")
    answer = front_desk.get(str(page.find('a[href$=".csv"]')["href"]))

    rows = list(csv.reader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    assert rows[0] == ["line", "field", "reason"]
    assert rows[1][:2] == ["4", "Name"]
    assert "attachment" in answer.response.headers["content-disposition"]
    assert tally(page)[4] == "1 bad line, not imported"


def test_the_same_file_again_offers_nothing_to_confirm(front_desk: PageClient) -> None:
    sent(front_desk, sent(front_desk, hand_in(front_desk, TWO), "/columns"), "/confirm")
    columns = hand_in(front_desk, TWO)
    page = sent(front_desk, columns, "/columns")

    assert "This same file was imported before" in columns.text
    assert "There is nothing to import" in page.text
    assert page.all('form[action$="/confirm"]') == []


def test_changes_are_shown_old_and_new(front_desk: PageClient, practice: Practice) -> None:
    a_patient(practice, "N1", born="1984-03-27")
    page = sent(front_desk, hand_in(front_desk, TWO), "/columns")

    assert [words(each) for each in page.all("del, ins")][:2] == ["Ada Merriweather-Stone", "Ode Farrant"]


def test_a_plan_that_changed_meanwhile_is_shown_anew(front_desk: PageClient, practice: Practice) -> None:
    page = sent(front_desk, hand_in(front_desk, TWO), "/columns")
    a_patient(practice, "N1", born="1984-03-27")
    again = sent(front_desk, page, "/confirm")

    assert again.status == 409
    assert again.errors() == ["Patients have changed since this page was shown. Look through it once more."]
    assert tally(again)[:2] == ["1 new patient", "1 patient changed"]


def test_an_import_is_undone_from_its_page(front_desk: PageClient) -> None:
    done = sent(front_desk, sent(front_desk, hand_in(front_desk, TWO), "/columns"), "/confirm")
    page = sent(front_desk, done, "/undo")

    assert "The import is undone." in page.text
    assert "Nothing had been touched: everything went back." in page.text
    assert "Ode Farrant" not in front_desk.get("/patients").text


@pytest.mark.parametrize(
    ("data", "reason"),
    [(b"", "it is empty"), (b"PK\x03\x04" + b"\0" * 50, "a workbook"), (b'a,b\n"c,d\n', "line 2, field 1")],
)
def test_a_file_that_is_no_table_is_told_at_the_field(dentist: PageClient, data: bytes, reason: str) -> None:
    page = hand_in(dentist, data)

    assert page.status == 422
    assert reason in page.error_at("file")


def test_no_file_chosen_is_told(dentist: PageClient) -> None:
    page = dentist.post("/imports")

    assert page.error_at("file") == "no file was chosen. Choose the file that holds the table"


def test_what_a_file_says_is_never_run(front_desk: PageClient) -> None:
    text = 'Nr,<script>alert(1)</script>,Born,Name\nA,<img src=x onerror=y>,1984-03-27,"<b>Ode</b>"\n'
    columns = hand_in(front_desk, text, "<i>x</i>.csv")
    page = sent(front_desk, columns, "/columns")

    assert columns.all("main script, main img, main i") == []
    assert page.all("main b b, main img, main td b") == []
    assert "<b>Ode</b>" in words(page.find("main"))


def test_a_discarded_file_is_off_the_list(front_desk: PageClient) -> None:
    page = sent(front_desk, hand_in(front_desk, TWO), "/discard")

    assert "The file is discarded." in page.text
    assert words(page.find(".empty")) == "Nothing was imported yet."


def test_an_assistant_may_not_import(assistant: PageClient) -> None:
    assert assistant.get("/imports").status == 403
