"""Text of ours in tables that leave the program, and in the heads of answers."""

from __future__ import annotations

import csv
import io

import pytest

from app.work.patients import register_patient
from tests.attacks.conftest import ClientOf
from tests.attacks.crawling import crawl
from tests.attacks.whole_practice import Whole
from tests.people import TODAY
from tests.web.client import Page, PageClient

FORMULAS = ("=HYPERLINK(1)", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "=cmd|' /C calc'!A0")
"""OWASP, "CSV Injection": cells beginning with =, +, -, @, tab or carriage return (from memory)."""


def tables_of(client: PageClient) -> list[Page]:
    """Every CSV that a link leads to."""
    found = [page for page in crawl(client) if "text/csv" in page.response.headers.get("content-type", "")]
    assert found, "no page leads to a table"
    return found


def cells(page: Page) -> list[str]:
    """Every cell of a table."""
    text = page.response.content.decode("utf-8-sig")
    delimiter = csv.Sniffer().sniff(text.splitlines()[0], ",;\t").delimiter
    return [cell for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter) for cell in row]


def is_formula(cell: str) -> bool:
    """Whether a spreadsheet would reckon the cell: it begins like a formula and is no plain number."""
    if not cell.startswith(("=", "+", "-", "@", "\t", "\r")):
        return False
    try:
        float(cell)
    except ValueError:
        return True
    return False


def test_no_table_holds_a_formula(whole: Whole, browser_of: ClientOf) -> None:
    made = whole.practice
    with made.store.writing(made.dentist.practice_id) as scope:
        for number, text in enumerate(FORMULAS):
            register_patient(
                scope,
                made.front_desk,
                chart_number=f"F{number}",
                name=text.strip(),
                birth_date="1980-01-01",
                phone=text.strip()[:20],
                today=TODAY,
            )
    found = {
        page.path: [cell for cell in cells(page) if is_formula(cell)] for page in tables_of(browser_of("wilna"))
    }

    assert {path: bad for path, bad in found.items() if bad} == {}


def test_every_table_is_a_download_that_no_browser_takes_for_a_page(browser_of: ClientOf) -> None:
    for page in tables_of(browser_of("wilna")):
        headers = page.response.headers

        assert headers["content-disposition"].startswith("attachment"), page.path
        assert headers["x-content-type-options"] == "nosniff", page.path


@pytest.mark.parametrize("ending", ["\r\n", "\n", "\r", "%0d%0a", "\u2028", "\u0085", "\x00"])
def test_a_line_end_in_a_name_makes_no_head_of_its_own(browser_of: ClientOf, ending: str) -> None:
    """Names come back in heads as file names of downloads, and as addresses to go on to."""
    client = browser_of("wilna")
    hostile = f"a{ending}X-Strange: 1{ending}{ending}<p>"
    for address, data in (
        ("/patients/new", {"name": hostile, "chart_number": "L1", "birth_date": "1980-01-01"}),
        ("/practice", {"name": hostile}),
        ("/templates/adult-18/copy", {"title": hostile}),
    ):
        page = client.request("POST", address, data={"csrf_token": client.token()} | data, follow=False)

        assert page.status < 500
        assert "x-strange" not in page.response.headers
    for address in (f"/login?next=/{ending}X-Strange: 1", f"/patients?q={ending}X-Strange: 1"):
        page = (
            client.get(address.replace("\x00", "%00"), follow=False)
            if "%" in ending
            else client.request(
                "GET", address.split("?")[0], params={address.split("?")[1].split("=")[0]: hostile}, follow=False
            )
        )

        assert page.status < 500
        assert "x-strange" not in page.response.headers
