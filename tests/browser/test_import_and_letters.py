"""Importing and writing to patients in Chromium: the rules of axe-core, without scripts too, and on paper."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

from playwright.sync_api import Page
from pypdf import PdfReader

from app.work.letters import add_example_texts
from tests.browser.conftest import Running
from tests.browser.test_accessibility import violations
from tests.people import a_patient

OpenPage = Callable[..., Page]

FILE = (
    "Chart No;Patient;Born;E-mail;Last bitewings\n"
    "A-71;Ada Renamed;06/05/1984;ada@example.org;05/06/2025\n"
    "Z2;Zoë Müller;04/05/1984;;01/02/2024\n"
    "Z3;Bad Date;45/13/1990;;\n"
).encode("cp1252")


def hand_in(page: Page) -> None:
    page.goto("/imports")
    page.set_input_files("#f-file", [{"name": "p.csv", "mimeType": "text/csv", "buffer": FILE}])
    page.get_by_role("button", name="Look at the file").click()
    page.wait_for_url(re.compile("/imports/[0-9a-f]+"))


def test_no_page_of_imports_and_letters_breaks_a_rule(open_page: OpenPage, server: Running) -> None:
    patient = a_patient(server.practice, "A-71").id
    with server.practice.store.writing(server.practice.dentist.practice_id) as scope:
        add_example_texts(scope, server.practice.dentist)
    page = open_page("wilna", bypass_csp=True)
    hand_in(page)
    at = page.url.split("?")[0]
    found = violations(page, "/imports") + violations(page, at)
    page.get_by_role("button", name="Go on").click()
    found += violations(page, f"{at}/dates")
    page.locator("input[name=birth_date][value=day_first]").check()
    page.locator("input[name=last_bitewings][value=day_first]").check()
    page.get_by_role("button", name="Go on").click()
    found += violations(page, f"{at}/check")
    page.get_by_role("button", name=re.compile("^Import ")).click()
    found += violations(page, at)
    found += violations(page, "/letters") + violations(page, "/letters/texts/new")
    found += violations(page, f"/letters/new?patient={patient}")
    page.get_by_label("Recall letter").check()
    page.get_by_role("button", name="Prepare").click()
    page.wait_for_url("**/letters/prepared**")
    found += violations(page, page.url)

    assert found == []


def test_a_set_of_letters_prints_on_a_sheet_each(open_page: OpenPage, server: Running) -> None:
    people = [a_patient(server.practice, f"A-8{at}").id for at in range(3)]
    with server.practice.store.writing(server.practice.dentist.practice_id) as scope:
        add_example_texts(scope, server.practice.dentist)
    page = open_page("wilna")
    page.goto("/letters/new?" + "&".join(f"patient={each}" for each in people))
    page.get_by_label("Recall letter").check()
    page.get_by_role("button", name="Prepare").click()
    page.wait_for_url("**/letters/prepared**")
    sheets = PdfReader(io.BytesIO(page.pdf())).pages

    assert [sheet.extract_text().count("Dear Ada Merriweather-Stone") for sheet in sheets] == [1, 1, 1]
    assert all("Print" not in sheet.extract_text() for sheet in sheets)
