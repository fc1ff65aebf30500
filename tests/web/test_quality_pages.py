"""The review: each figure says what the use case says, opens what it counts, and shows an assistant their own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from urllib.parse import parse_qs, urlsplit

import pytest

from app.settings import Settings
from app.web.application import create_application
from app.work.quality_exposures import how_many_behind
from app.work.quality_figures import figures, overview
from app.work.quality_period import DIMENSIONS, Period
from app.work.quality_refresh import bring_up_to_date
from tests.people import PASSWORD, Practice, founded, hash_lightly
from tests.web.client import PageClient, running, words
from tests.web.quality_people import DENTISTS_PAGES, PAGES, PERIOD, counted, csv_rows, rows, something_to_review

QUARTER = Period.of_months("2026-01", "2026-03")

Standing = tuple[Practice, Callable[[str], PageClient]]


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Standing]:
    """One practice with something to review, and a browser for each of its people: these tests only read."""
    folder = tmp_path_factory.mktemp("review") / "data"
    with pytest.MonkeyPatch.context() as patch:
        hash_lightly(patch)
        practice = founded(folder)
        something_to_review(practice)
        application = create_application(Settings(data_folder=folder))
        clients: dict[str, PageClient] = {}
        with running([application]) as portal:

            def client(login: str) -> PageClient:
                if login not in clients:
                    clients[login] = PageClient(portal, application)
                    clients[login].log_in(login, PASSWORD)
                return clients[login]

            yield practice, client
            for each in clients.values():
                each.close()
        practice.store.close()


@pytest.fixture
def reviewed(standing: Standing) -> Practice:
    """The practice with something to review."""
    return standing[0]


@pytest.fixture
def client_of(standing: Standing) -> Callable[[str], PageClient]:
    """The browser of somebody."""
    return standing[1]


@pytest.fixture
def dentist(client_of: Callable[[str], PageClient]) -> PageClient:
    """The dentist's browser."""
    return client_of("wilna")


@pytest.fixture
def assistant(client_of: Callable[[str], PageClient]) -> PageClient:
    """The assistant's browser."""
    return client_of("tomke")


@pytest.mark.parametrize("address", PAGES)
def test_a_page_opens_for_dentist_and_assistant_and_not_for_the_front_desk(client_of, address: str) -> None:
    answers = {login: client_of(login).get(address).status for login in ("wilna", "tomke", "pell")}

    assert answers == {"wilna": 200, "tomke": 403 if address in DENTISTS_PAGES else 200, "pell": 403}


@pytest.mark.parametrize(
    ("login", "address"),
    [("wilna", address) for address in PAGES]
    + [("tomke", address) for address in PAGES if address not in DENTISTS_PAGES],
)
def test_a_page_with_figures_is_whole(client_of, reviewed: Practice, address: str, login: str) -> None:
    page = client_of(login).get(f"{address}?{PERIOD}")

    assert page.status == 200
    assert page.all(".table, .empty")


def test_the_headline_figures_are_those_of_the_use_case(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality?{PERIOD}")
    with reviewed.store.reading(reviewed.dentist.practice_id) as scope:
        found = overview(scope, reviewed.dentist, QUARTER)

    whole = found.whole
    expected = {
        "retaken": whole.retake,
        "non_diagnostic": whole.non_diagnostic,
        "avoidable": whole.avoidable,
        "missed": found.missed,
    }
    assert (whole.exposures, whole.retake.numerator, found.missed.numerator) == (10, 1, 1)
    for key, rate in expected.items():
        said = counted(page, key)
        assert rate.interval is not None
        assert f"{rate.numerator} of {rate.denominator} " in said
        assert f"{100 * rate.interval.low:.1f} to {100 * rate.interval.high:.1f} %" in said


def test_each_headline_figure_opens_what_it_counts(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality?{PERIOD}")

    for card in page.all("[data-figure]"):
        number = re.search(r"(\d+) of \d+ ", words(card))
        link = card.select_one("a")
        assert number is not None
        if number.group(1) == "0":
            assert link is None
            continue
        assert link is not None
        assert len(dentist.get(str(link["href"])).all("tbody tr")) == int(number.group(1))


@pytest.mark.parametrize("by", list(DIMENSIONS))
def test_a_breakdown_shows_the_figures_of_the_use_case(dentist: PageClient, reviewed: Practice, by: str) -> None:
    page = dentist.get(f"/quality/figures?{PERIOD}&by={by}")
    bring_up_to_date(reviewed.store, reviewed.dentist.practice_id)
    with reviewed.store.reading(reviewed.dentist.practice_id) as scope:
        found = figures(scope, reviewed.dentist, QUARTER, by)

    shown = rows(page, f"figures-by-{by.replace('_', '-')}")
    assert found
    assert {title: (cells[0], cells[1]) for title, cells in shown.items()} == {
        row.title: (str(row.exposures), str(row.retake.numerator)) for row in found
    }


@pytest.mark.parametrize("by", list(DIMENSIONS))
def test_every_count_of_a_breakdown_opens_as_many_exposures(
    dentist: PageClient, reviewed: Practice, by: str
) -> None:
    page = dentist.get(f"/quality/figures?{PERIOD}&by={by}")

    wrong = []
    for link in page.all("tbody td a"):
        behind = dentist.get(str(link["href"]))
        said = re.match(r"(\d+) exposure", words(behind.find(".q-chosen")))
        if said is None or said.group(1) != words(link) or len(behind.all("tbody tr")) != int(words(link)):
            wrong.append((words(link), behind.path))
    assert page.all("tbody td a")
    assert wrong == []


def test_an_exposure_leads_to_its_review_and_its_series(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality/exposures?{PERIOD}&measure=retaken")

    addresses = [str(link["href"]) for link in page.all("tbody a")]
    assert [address.split("/")[1] for address in addresses] == ["exposures", "series"]
    assert {dentist.get(address).status for address in addresses} == {200}


def test_a_long_list_has_pages(dentist: PageClient, reviewed: Practice, monkeypatch: pytest.MonkeyPatch) -> None:
    from app.web.pages import quality_exposures

    monkeypatch.setattr(quality_exposures, "ON_A_PAGE", 4)
    seen: list[str] = []
    page = dentist.get(f"/quality/exposures?{PERIOD}")
    while True:
        seen.extend(str(link["href"]) for link in page.all("tbody th a"))
        later = [link for link in page.all(".q-pages a") if words(link) == "Next page"]
        if not later:
            break
        page = dentist.get(str(later[0]["href"]))

    assert (len(seen), len(set(seen))) == (10, 10)


def test_period_and_person_stay_in_every_address_of_the_review(dentist: PageClient, reviewed: Practice) -> None:
    staff = reviewed.assistant.staff_id
    page = dentist.get(f"/quality?{PERIOD}&operator={staff}")

    links = [str(link["href"]) for link in page.all("nav[aria-label='Pages of the review'] a, main .table a")]
    asked = [parse_qs(urlsplit(link).query) for link in links]
    assert len(links) > 5
    assert {(*each["from"], *each["to"], *each["operator"]) for each in asked} == {("2026-01", "2026-03", staff)}


def test_the_form_shows_what_the_address_asks_for(dentist: PageClient, reviewed: Practice) -> None:
    staff = reviewed.assistant.staff_id

    page = dentist.get(f"/quality/figures?{PERIOD}&operator={staff}&by=region&measure=non_diagnostic")

    chosen = {str(each["name"]): str(each.find("option", selected=True)["value"]) for each in page.all("select")}
    assert chosen == {
        "from": "2026-01",
        "to": "2026-03",
        "operator": staff,
        "by": "region",
        "measure": "non_diagnostic",
    }


def test_changing_the_period_of_a_list_keeps_what_it_lists(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality/exposures?{PERIOD}&measure=retaken&by=reason&value=apex_cut_off")

    hidden = {str(each["name"]): str(each["value"]) for each in page.all(".q-filters input[type=hidden]")}
    assert hidden == {"measure": "retaken", "by": "reason", "value": "apex_cut_off"}


def test_a_dentist_can_look_at_one_person(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality?{PERIOD}&operator={reviewed.assistant.staff_id}")

    assert "1 of 7 " in counted(page, "retaken")
    assert "Tomke Rill" in words(page.find(".notice"))


def test_an_assistant_sees_their_own_figures_and_is_told_so(assistant: PageClient, reviewed: Practice) -> None:
    page = assistant.get(f"/quality?{PERIOD}")

    assert "1 of 7 " in counted(page, "retaken")
    assert "These figures are your own, Tomke Rill" in words(page.find(".notice"))


def test_an_assistant_cannot_ask_for_a_colleague(assistant: PageClient, reviewed: Practice) -> None:
    asked = f"{PERIOD}&operator={reviewed.dentist.staff_id}"

    page = assistant.get(f"/quality?{asked}")
    behind = assistant.get(f"/quality/exposures?{asked}&by=operator&value={reviewed.dentist.staff_id}")

    assert "1 of 7 " in counted(page, "retaken")
    assert not page.all("select[name=operator]")
    assert behind.all("tbody tr") == []


def test_an_assistant_finds_no_colleague_s_name_in_the_comparison(
    assistant: PageClient, reviewed: Practice
) -> None:
    page = assistant.get(f"/quality/comparison?{PERIOD}")

    assert list(rows(page, "comparison")) == ["Tomke Rill"]
    assert "Achterberg" not in words(page.find("main"))


def test_another_practice_sees_nothing_of_it(client_of, reviewed: Practice) -> None:
    page = client_of("isko").get(f"/quality?{PERIOD}")

    assert "Nothing to count yet" in counted(page, "retaken")


@pytest.mark.parametrize("address", ["/quality/figures", "/quality/comparison", "/quality/over-time"])
def test_a_chart_stands_with_its_table(dentist: PageClient, reviewed: Practice, address: str) -> None:
    page = dentist.get(f"{address}?{PERIOD}")

    figures_shown = page.all(".q-figure")
    assert figures_shown
    for each in figures_shown:
        assert each.select_one("svg title") is not None
        assert each.select_one("svg desc") is not None
        assert each.select_one("table caption") is not None
        assert each.select_one('a[href*="csv="]') is not None


@pytest.mark.parametrize("address", PAGES)
def test_every_table_can_be_taken_away(dentist: PageClient, reviewed: Practice, address: str) -> None:
    page = dentist.get(f"{address}?{PERIOD}")

    for link in page.all('a[href*="csv="]'):
        file = dentist.get(str(link["href"]))
        table = csv_rows(file)
        assert file.response.headers["content-type"].startswith("text/csv")
        assert "attachment" in file.response.headers["content-disposition"]
        assert len(table) > 1
        assert len({len(row) for row in table}) == 1


def test_the_file_holds_the_numbers_of_the_page_as_numbers(dentist: PageClient, reviewed: Practice) -> None:
    table = csv_rows(dentist.get(f"/quality/figures?{PERIOD}&by=operator&csv=figures-by-operator"))

    line = dict(zip(table[0], next(row for row in table if row[0] == "Tomke Rill"), strict=True))
    assert (line["Exposures"], line["Retaken"]) == ("7", "1")
    assert float(line["Retaken: Rate (share)"]) == pytest.approx(1 / 7)


def test_a_table_that_the_page_does_not_have_is_not_there(dentist: PageClient) -> None:
    assert dentist.get("/quality?csv=everything").status == 404


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("/quality?from=2026-13&to=2026-14", '"2026-13" is not a month'),
        ("/quality?from=2026-03&to=2026-01", "2026-01 lies before 2026-03"),
        ("/quality/figures?by=regoin", 'Did you mean "region"?'),
        ("/quality/figures?measure=guilt", '"guilt" cannot be chosen here'),
        ("/quality/exposures?measure=retakn", 'Did you mean "retaken"?'),
        ("/quality/comparison?outcome=x", '"x" cannot be chosen here'),
        ("/quality/over-time?grain=dya", '"dya" cannot be chosen here'),
    ],
)
def test_a_wrong_address_says_what_to_write(dentist: PageClient, address: str, says: str) -> None:
    page = dentist.get(address)

    assert page.status == 422
    assert says in words(page.find("main"))


def test_training_names_the_fault_and_how_it_is_corrected(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality/training?{PERIOD}")

    assert "Tomke Rill" in [words(each) for each in page.all("h2")]
    assert (
        "Apex cut off" in words(page.find("#table-training-1, #table-training-2")) or "Apex cut off" in page.text
    )


def test_the_words_train_and_do_not_blame(dentist: PageClient, reviewed: Practice) -> None:
    said = " ".join(words(dentist.get(f"{address}?{PERIOD}").find("main")).lower() for address in PAGES)

    found = [
        word for word in ("worst", "bad", "poor", "guilty", "blame", "culprit", "offender") if f" {word} " in said
    ]
    assert found == []


def test_the_number_behind_is_the_use_case_s(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality/exposures?{PERIOD}&measure=reviewed&by=template&value=adult-18")
    with reviewed.store.reading(reviewed.dentist.practice_id) as scope:
        number = how_many_behind(
            scope, reviewed.dentist, QUARTER, measure="reviewed", by="template", value="adult-18"
        )

    assert number == 10
    assert words(page.find(".q-chosen")).startswith("10 exposures.")


def test_a_page_about_everybody_does_not_claim_to_be_one_person_s(client_of, reviewed: Practice) -> None:
    asked = f"{PERIOD}&operator={reviewed.assistant.staff_id}"
    dentist, assistant = client_of("wilna"), client_of("tomke")

    pages = [dentist.get(f"/quality/{name}?{asked}") for name in ("comparison", "receptors", "targets")]
    own = assistant.get(f"/quality/receptors?{PERIOD}")

    assert [words(each.find("main")).count("These figures are") for each in [*pages, own]] == [0, 0, 0, 0]
    assert all(f"operator={reviewed.assistant.staff_id}" in str(each.find(".within a")["href"]) for each in pages)
