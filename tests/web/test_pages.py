"""Every page opens, whole, for those it is for."""

from __future__ import annotations

import pytest

from tests.people import Practice, a_patient
from tests.web.client import PageClient

OPEN_PAGES = ("/login", "/cautions", "/patterns", "/api")
ASSISTANTS_PAGES = ("/", "/me", "/patients", "/patients/new", "/series/new", "/templates", "/templates/adult-18")
DENTISTS_PAGES = (
    "/practice",
    "/practice/rooms",
    "/practice/loading",
    "/practice/loading/adult-18",
)


@pytest.mark.parametrize("address", OPEN_PAGES)
def test_opens_without_a_log_in(anybody: PageClient, address: str) -> None:
    page = anybody.get(address)

    assert (page.status, page.path) == (200, address)


@pytest.mark.parametrize("address", ASSISTANTS_PAGES)
def test_opens_for_the_assistant(assistant: PageClient, address: str) -> None:
    page = assistant.get(address)

    assert (page.status, page.path) == (200, address)


@pytest.mark.parametrize("address", DENTISTS_PAGES)
def test_opens_for_the_dentist(dentist: PageClient, address: str) -> None:
    page = dentist.get(address)

    assert (page.status, page.path) == (200, address)


@pytest.mark.parametrize("tail", ["", "/edit", "/chart"])
def test_the_patients_pages_open(assistant: PageClient, practice: Practice, tail: str) -> None:
    patient = a_patient(practice)

    page = assistant.get(f"/patients/{patient.id}{tail}")

    assert page.status == 200


def test_a_page_that_is_not_there_says_so_in_the_house_s_words(assistant: PageClient) -> None:
    page = assistant.get("/nowhere")

    assert (page.status, page.h1) == (404, "Nothing here")
    assert "Tomke Rill" in page.text
