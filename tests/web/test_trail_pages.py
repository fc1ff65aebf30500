"""The trail as the administrator reads and exports it, and one patient's viewers as a dentist does."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest

from app.core.trail import KINDS
from app.storage.columns import now
from app.storage.people import Staff
from app.storage.trail_notes import Note, note
from app.web.pages.trail import KIND_NAMES
from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.storage.trail_rows import entries
from tests.web.client import Page, PageClient, words


@pytest.fixture
def ruan(client_of: Callable[[str], PageClient]) -> PageClient:
    """The administrator's browser."""
    return client_of("ruan")


def numbers(page: Page) -> list[int]:
    """The numbers of the entries on a page, in order."""
    return [int(words(each)) for each in page.all("tbody th")]


def csv_of(page: Page) -> list[dict[str, str]]:
    """The rows of an export."""
    return list(csv.DictReader(io.StringIO(page.response.content.decode("utf-8-sig"))))


def seen(practice: Practice, patient_id: str, count: int = 1) -> None:
    """An image of a patient seen by the assistant."""
    for number in range(count):
        practice.store.trail.note(
            Note(
                kind="view",
                what=f"image {number}",
                who=practice.assistant.staff_id,
                practice_id=practice.dentist.practice_id,
                patient_id=patient_id,
            )
        )


def test_the_newest_entry_comes_first_with_its_person(practice: Practice, ruan: PageClient) -> None:
    seen(practice, a_patient(practice).id)
    page = ruan.get("/trail")

    assert numbers(page)[0] == max(numbers(page))
    assert numbers(page) == sorted(numbers(page), reverse=True)
    assert "Tomke Rill" in words(page.find("tbody tr"))
    assert "H100" in words(page.find("tbody tr"))
    assert "Merriweather" not in page.text


@pytest.mark.parametrize(
    ("query", "kept"),
    [
        ("kind=view", {"view"}),
        ("kind=log_in", {"log_in"}),
        ("chart=H100", {"view", "change"}),
        ("who=nobody&kind=start", {"start"}),
        ("kind=unheard-of", None),
    ],
)
def test_the_filter_stands_in_the_address(
    practice: Practice, ruan: PageClient, query: str, kept: set[str] | None
) -> None:
    seen(practice, a_patient(practice).id)
    page = ruan.get(f"/trail?{query}")
    kinds = {each.number: each.kind for each in entries(practice.store)}

    assert numbers(page)
    if kept is not None:
        assert {kinds[number] for number in numbers(page)} == kept


def test_days_are_counted_in_at_both_ends(practice: Practice, ruan: PageClient) -> None:
    today = now().astimezone().date()
    yesterday, tomorrow = today - timedelta(days=1), today + timedelta(days=1)

    assert numbers(ruan.get(f"/trail?first={today}&last={today}"))
    assert numbers(ruan.get(f"/trail?last={yesterday}")) == []
    assert numbers(ruan.get(f"/trail?first={tomorrow}")) == []
    assert "No entry fits" in ruan.get(f"/trail?first={tomorrow}").text


@pytest.mark.parametrize(
    ("query", "field", "told"),
    [
        ("first=27.3.2026", "first", '"27.3.2026" is no day'),
        ("first=2026-03-02&last=2026-03-01", "last", "lies before the first day"),
        ("chart=nobody-has-this", "chart", 'no patient has the chart number "nobody-has-this"'),
        ("last=9999-12-31&first=0001-01-01", "", ""),
    ],
)
def test_what_cannot_be_asked_is_told_at_its_field(ruan: PageClient, query: str, field: str, told: str) -> None:
    page = ruan.get(f"/trail?{query}")

    assert page.status == (422 if field else 200)
    if field:
        assert told in page.error_at(field)


def test_pages_go_back_to_the_first_entry_without_gap_or_repeat(practice: Practice, ruan: PageClient) -> None:
    seen(practice, a_patient(practice).id, 120)
    page = ruan.get("/trail?kind=view")
    read = numbers(page)
    while page.soup.find("a", string="Older entries"):
        page = ruan.get(str(page.soup.find("a", string="Older entries")["href"]))  # type: ignore[index]
        read += numbers(page)
    expected = [each.number for each in entries(practice.store, "view")]

    # The page itself, seen, became the newest.
    assert sorted(read) == [number for number in expected if number <= read[0]]
    assert len(set(read)) == len(read) >= 120


def test_the_head_stands_there_to_be_noted(practice: Practice, ruan: PageClient) -> None:
    page = ruan.get("/trail")
    heads = {f"{each.number}:{each.hash[:16]}" for each in entries(practice.store)}

    assert words(page.find("#head ~ p code")) in heads


def test_the_export_has_every_entry_with_its_hash_and_no_patient(practice: Practice, ruan: PageClient) -> None:
    loaded(practice, a_series(practice), slot="UR-molar")
    answer = ruan.get("/trail.csv")
    rows = csv_of(answer)
    kept = {each.number: each for each in entries(practice.store)}
    own = [number for number, each in kept.items() if each.practice_id in (practice.dentist.practice_id, "")]

    # The last is the export itself, or was written after it.
    assert [int(row["number"]) for row in rows] == own[: len(rows)]
    assert len(rows) >= len(own) - 1
    assert all(row["hash"] == kept[int(row["number"])].hash for row in rows)
    assert "Merriweather" not in answer.text
    assert entries(practice.store, "export")[-1].who == practice.administrator.staff_id


def test_a_long_export_is_sent_whole(practice: Practice, ruan: PageClient) -> None:
    """More than one query reads."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for number in range(2100):
            note(scope, Note(kind="upkeep", what=f"deed {number}"))
    rows = list(
        csv.DictReader(io.StringIO(ruan.get("/trail.csv?kind=upkeep").response.content.decode("utf-8-sig")))
    )

    assert [row["what"] for row in rows] == [f"deed {number}" for number in range(2100)]


@pytest.mark.parametrize("login", ["tomke", "pell", "wilna"])
def test_nobody_but_an_administrator_reads_it(client_of: Callable[[str], PageClient], login: str) -> None:
    client = client_of(login)

    assert [client.get(address).status for address in ("/trail", "/trail.csv")] == [403, 403]
    assert client.get("/").soup.find("a", href="/trail") is None


def test_a_dentist_sees_who_looked_at_a_patients_images_and_nothing_else(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    patient, other = a_patient(practice), a_patient(practice, chart_number="H101")
    seen(practice, patient.id)
    seen(practice, other.id)
    wilna = client_of("wilna")
    link = wilna.get(f"/patients/{patient.id}").soup.find("a", string="Who looked at the images")
    page = wilna.get(str(link["href"]))  # type: ignore[index]

    assert [words(each) for each in page.all("tbody .trail-who")] == ["Tomke Rill"]
    assert page.h1 == "Who looked at the images of Ada Merriweather-Stone"


@pytest.mark.parametrize("login", ["tomke", "pell", "ruan"])
def test_viewers_are_told_to_dentists_only(
    practice: Practice, client_of: Callable[[str], PageClient], login: str
) -> None:
    patient = a_patient(practice)
    client = client_of(login)

    assert client.get(f"/patients/{patient.id}/viewers").status == 403
    assert "Who looked at the images" not in client.get(f"/patients/{patient.id}").text


def test_a_patient_at_whom_nobody_looked(practice: Practice, client_of: Callable[[str], PageClient]) -> None:
    page = client_of("wilna").get(f"/patients/{a_patient(practice).id}/viewers")

    assert "Nobody has looked" in page.text


def test_a_person_with_a_hostile_name_is_shown_as_text(practice: Practice, ruan: PageClient) -> None:
    name = "<b onclick=x>" + "W" * 120
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.get(Staff, practice.assistant.staff_id, "person")
        row.name = name
        scope.session.add(row)
    seen(practice, a_patient(practice).id)

    assert name in words(ruan.get("/trail").find("tbody .trail-who"))


def test_every_kind_of_entry_has_its_word() -> None:
    assert set(KIND_NAMES) == set(KINDS)
