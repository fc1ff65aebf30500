"""Changing person at a shared machine: two touches and a PIN, without a script."""

from __future__ import annotations

import pytest

from app.web.leading import if_open_to
from tests.people import PASSWORD, Practice
from tests.web.client import ORIGIN, Page, PageClient, words

PIN, OTHER_PIN, WRONG = "402817", "739150", "184062"


@pytest.fixture
def chairside(client_of) -> PageClient:
    """A machine where dentist and assistant have logged in wholly and have PINs; the assistant is there now."""
    client = client_of("wilna")
    give_pin(client, OTHER_PIN)
    client.submit(client.get("/login?other=yes"), "/login", {"login": "tomke", "password": PASSWORD})
    give_pin(client, PIN)
    return client


def give_pin(client: PageClient, pin: str, password: str = PASSWORD) -> Page:
    return client.submit(client.get("/me"), "/me/pin", {"pin_password": password, "pin": pin, "pin_again": pin})


def person_of(page: Page, name: str) -> str:
    """The value of the target that carries the name."""
    (label,) = [each for each in page.all(".switch-person") if name in words(each)]
    return str(label.select_one("input")["value"])


def switch(client: PageClient, name: str, pin: str, since: str = "/patients") -> Page:
    page = client.get("/switch", headers={"Referer": f"{ORIGIN}{since}"})
    return client.submit(page, "/switch", {"person": person_of(page, name), "pin": pin})


def who(client: PageClient) -> str:
    return words(client.get("/me").find("dd"))


def test_the_page_is_one_touch_away_and_lists_who_may_come_back(chairside: PageClient) -> None:
    link = chairside.get("/patients").find(".top-person a[data-switch]")
    page = chairside.get(str(link["href"]))

    assert [words(each) for each in page.all(".switch-person")] == [
        "Dr Wilna Achterberg dentist",
        "Tomke Rill assistant, here now",
    ]


def test_the_right_pin_changes_person_and_leads_back_to_the_page(chairside: PageClient) -> None:
    page = switch(chairside, "Wilna", OTHER_PIN, "/patients?q=ada")

    assert page.path == "/patients?q=ada"
    assert who(chairside) == "Dr Wilna Achterberg"


def test_the_change_gives_a_new_token_and_ends_the_log_in_before(chairside: PageClient) -> None:
    before = chairside._client.cookies["fullcount_login"]
    switch(chairside, "Wilna", OTHER_PIN)
    after = chairside._client.cookies["fullcount_login"]
    chairside._client.cookies.set("fullcount_login", before, domain="fullcount.test")

    assert after != before
    assert chairside.get("/patients").h1 == "Log in"


def test_it_leads_home_where_the_new_person_may_not_open_the_page(chairside: PageClient) -> None:
    switch(chairside, "Wilna", OTHER_PIN)
    page = switch(chairside, "Tomke", PIN, "/practice/rooms")

    assert page.path == "/"


def test_a_wrong_pin_says_how_many_tries_are_left_and_changes_nobody(chairside: PageClient) -> None:
    page = switch(chairside, "Wilna", WRONG)

    assert page.status == 401
    assert page.error_at("pin") == "This is not the PIN. 4 more tries, then the password is asked."
    assert page.find("#f-pin")["value"] == ""
    assert who(chairside) == "Tomke Rill"


def test_after_five_wrong_pins_the_password_still_opens_and_the_pin_after_it(chairside: PageClient) -> None:
    """Nobody is locked out of treatment."""
    for _ in range(5):
        last = switch(chairside, "Wilna", WRONG)
    listed = chairside.get("/switch")
    inside = chairside.submit(
        chairside.get("/login?other=yes"),
        "/login",
        {
            "login": "wilna",
            "password": PASSWORD,
        },
    )
    switch(chairside, "Tomke", PIN)
    again = switch(chairside, "Wilna", OTHER_PIN)

    assert "does not open at this machine now" in last.errors()[0]
    assert [words(each) for each in listed.all(".switch-person")] == ["Tomke Rill assistant, here now"]
    assert "Dr Wilna Achterberg: too many wrong PINs" in listed.text
    assert (inside.h1, again.h1) == ("Series under way", "Patients")


def test_another_machine_lists_nobody(chairside: PageClient, client_of) -> None:
    elsewhere = client_of("pell")
    page = elsewhere.get("/switch")

    assert page.all(".switch-person") == []
    assert "Tomke" not in page.text


def test_a_person_of_this_machine_is_not_opened_at_another(chairside: PageClient, client_of) -> None:
    person = person_of(chairside.get("/switch"), "Wilna")
    elsewhere = client_of("pell")
    page = elsewhere.post("/switch", {"person": person, "pin": OTHER_PIN, "next": "/"})

    assert page.status == 422
    assert who(elsewhere) == "Pell Orcutt"


def test_locking_leaves_the_machine_to_nobody_and_the_pin_leads_back(
    chairside: PageClient,
) -> None:
    form = chairside.get("/switch", headers={"Referer": f"{ORIGIN}/patients?q=ada"})
    locked = chairside.submit(form, "/switch/lock")
    nobody = chairside.get("/patients").h1
    back = chairside.submit(locked, "/switch", {"person": person_of(locked, "Tomke"), "pin": PIN})

    assert (locked.h1, nobody) == ("Change person", "Log in")
    assert "Everything that was kept is there" in locked.text
    assert back.path == "/patients?q=ada"


def test_after_a_log_out_only_the_password_opens(chairside: PageClient) -> None:
    chairside.submit(chairside.get("/"), "/logout")
    page = chairside.get("/switch")

    assert [words(each) for each in page.all(".switch-person")] == ["Dr Wilna Achterberg dentist"]


def test_a_pin_needs_the_password_first(chairside: PageClient) -> None:
    page = give_pin(chairside, "583914", "wrong words here")

    assert page.error_at("pin_password").startswith("This is not your present password")
    assert switch(chairside, "Tomke", PIN).path == "/patients"


def test_an_easy_pin_is_told_at_its_field(chairside: PageClient) -> None:
    page = give_pin(chairside, "123456")

    assert page.error_at("pin") == "this PIN is too easy to guess. Take digits without a pattern"


def test_an_administrator_is_offered_no_pin(client_of) -> None:
    administrator = client_of("ruan")
    page = administrator.get("/me")
    refused = administrator.post("/me/pin", {"pin_password": PASSWORD, "pin": PIN, "pin_again": PIN})

    assert page.all("#f-pin") == []
    assert refused.status == 403


def test_the_form_works_without_a_script(chairside: PageClient) -> None:
    """A password field for digits that nothing remembers; the keys are hidden until their module has made them."""
    page = chairside.get("/switch")
    field = page.find("#f-pin")

    assert (field["type"], field["inputmode"], field["autocomplete"]) == ("password", "numeric", "off")
    assert page.find("[data-keys]").has_attr("hidden")


@pytest.mark.parametrize(
    "target", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)"]
)
def test_a_change_leads_to_no_other_site(chairside: PageClient, target: str) -> None:
    page = chairside.get("/switch")
    answer = chairside.post(
        "/switch", {"person": person_of(page, "Wilna"), "pin": OTHER_PIN, "next": target}, follow=False
    )

    assert answer.response.headers["location"] == "/"


def test_a_page_of_another_site_is_not_where_it_leads_back(chairside: PageClient) -> None:
    page = chairside.get("/switch", headers={"Referer": "https://elsewhere.example/patients"})

    assert page.find('form[action="/switch"] input[name="next"]')["value"] == "/"


def test_what_a_role_may_open_is_read_off_the_table(practice: Practice) -> None:
    opened = [
        if_open_to(practice.front_desk, address)
        for address in (
            "/patients/abc",
            "/series/new",
            "/series/abc?image=1",
            "/calendar?day=2026-03-27",
            "/nowhere",
        )
    ]

    assert opened == ["/patients/abc", "/", "/", "/calendar?day=2026-03-27", "/"]
