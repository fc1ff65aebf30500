"""Other sites can do nothing here, and answers carry what keeps browsers safe."""

from __future__ import annotations

import pytest
from fastapi import APIRouter

from app.settings import Settings
from app.web.application import create_application
from tests.people import Practice, a_patient
from tests.web.client import PageClient, running

NEW_PATIENT = {"name": "Odo Farrant", "chart_number": "H7", "birth_date": "2018-02-03"}


def registered(client: PageClient) -> bool:
    return "Odo Farrant" in client.get("/patients").text


def test_a_form_of_our_own_page_is_taken(assistant: PageClient) -> None:
    assistant.post("/patients/new", NEW_PATIENT)

    assert registered(assistant)


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "", "Origin": "https://elsewhere.example"},
        {"Sec-Fetch-Site": "", "Origin": "null"},
        {"Sec-Fetch-Site": ""},
    ],
)
def test_a_form_from_elsewhere_is_refused_even_with_the_token(
    assistant: PageClient, headers: dict[str, str]
) -> None:
    page = assistant.post("/patients/new", NEW_PATIENT, headers=headers)

    assert page.status == 403
    assert not registered(assistant)


def test_an_old_browser_s_origin_is_enough(assistant: PageClient) -> None:
    assistant.post("/patients/new", NEW_PATIENT, headers={"Sec-Fetch-Site": "", "Origin": "http://fullcount.test"})

    assert registered(assistant)


@pytest.mark.parametrize("token", ["", "guess", "é"])
def test_a_form_without_the_token_is_refused(assistant: PageClient, token: str) -> None:
    page = assistant.post("/patients/new", NEW_PATIENT | {"csrf_token": token})

    assert page.status == 403
    assert not registered(assistant)


def test_another_person_s_token_is_refused(client_of) -> None:
    assistant, dentist = client_of("tomke"), client_of("wilna")

    page = assistant.post("/patients/new", NEW_PATIENT | {"csrf_token": dentist.token()})

    assert page.status == 403


def test_the_token_may_come_in_a_header(assistant: PageClient) -> None:
    assistant.request("POST", "/patients/new", data=NEW_PATIENT, headers={"X-CSRF-Token": assistant.token()})

    assert registered(assistant)


def test_pages_of_patients_are_kept_by_nobody(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/patients/{a_patient(practice).id}")

    assert page.response.headers["cache-control"] == "no-store"


@pytest.mark.parametrize("address", ["/login", "/nowhere", "/health", "/static/0/base.css"])
def test_every_answer_carries_the_safety_headers(anybody: PageClient, address: str) -> None:
    headers = anybody.get(address).response.headers

    policy = headers["content-security-policy"]

    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_a_failure_of_the_program_is_a_whole_page_without_its_insides(practice: Practice, tmp_path) -> None:
    application = create_application(Settings(data_folder=tmp_path / "data"))
    broken = APIRouter(include_in_schema=False)

    @broken.get("/health/broken")
    def fail() -> None:
        raise RuntimeError("secret of the inside")

    application.include_router(broken)
    with running([application]) as portal:
        client = PageClient(portal, application)
        # Not in the table of who may open what: refused before it fails.
        refused = client.get("/health/broken")
        from app.web import access

        access.ACCESS[("GET", "/health/broken")] = access.OPEN
        try:
            page = client.get("/health/broken")
        finally:
            del access.ACCESS[("GET", "/health/broken")]
        client.close()

    assert refused.status == 403
    assert (page.status, page.h1) == (500, "The program has failed")
    assert "secret" not in page.text
    assert "frame-ancestors 'none'" in page.response.headers["content-security-policy"]


def test_html_in_names_is_shown_as_text(assistant: PageClient) -> None:
    assistant.post("/patients/new", NEW_PATIENT | {"name": '<script>alert("x")</script><b>Odo'})

    page = assistant.get("/patients")

    assert '<script>alert("x")</script><b>Odo' in page.soup.get_text()
    assert len(page.soup.find_all("script")) == 1


def test_a_form_larger_than_a_form_is_refused(assistant: PageClient) -> None:
    page = assistant.post("/patients/new", NEW_PATIENT | {"phone": "1" * 1_100_000})

    assert (page.status, page.h1) == (413, "Too large")


def test_styles_and_scripts_are_kept_for_ever_under_their_hash(anybody: PageClient) -> None:
    address = str(anybody.get("/login").find('link[rel="stylesheet"]')["href"])

    present = anybody.get(address)
    other = anybody.get(address.replace(address.split("/")[2], "000000000000"))

    assert present.response.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert other.response.headers["cache-control"] == "no-cache"


@pytest.mark.parametrize("name", ["../app/settings.py", "..%2fapp%2fsettings.py", "%2e%2e/app/settings.py"])
def test_nothing_beside_the_static_folder_is_served(anybody: PageClient, name: str) -> None:
    page = anybody.get(f"/static/0/{name}")

    assert page.status == 404
