"""Log in, log out, and the first start."""

from __future__ import annotations

import pytest

from app.web.leading import own_address
from app.work.tries import OWN
from tests.people import PASSWORD
from tests.web.client import PageClient


def test_a_log_in_leads_home(anybody: PageClient) -> None:
    page = anybody.log_in("tomke", PASSWORD)

    assert (page.h1, page.path) == ("Series under way", "/")


@pytest.mark.parametrize(("login", "password"), [("tomke", "wrong words here"), ("nobody", PASSWORD), ("", "")])
def test_every_failure_says_the_same(anybody: PageClient, login: str, password: str) -> None:
    page = anybody.log_in(login, password)

    assert page.status == 401
    assert page.error_at("login") == "Log-in name or password is wrong. Check both and try again."


def test_what_was_typed_stays_but_not_the_password(anybody: PageClient) -> None:
    page = anybody.log_in("tomke", "wrong words here")

    assert page.find("#f-login")["value"] == "tomke"
    assert page.find("#f-password")["value"] == ""


def test_logging_out_ends_the_log_in_on_the_server(anybody: PageClient) -> None:
    anybody.log_in("tomke", PASSWORD)
    kept = dict(anybody._client.cookies)
    anybody.submit(anybody.get("/"), "/logout")
    anybody._client.cookies.update(kept)

    page = anybody.get("/patients")

    assert page.h1 == "Log in"


def test_the_cookie_is_kept_from_scripts_and_other_sites(anybody: PageClient) -> None:
    page = anybody.get("/login")
    answer = anybody.submit(page, "/login", {"login": "tomke", "password": PASSWORD}, follow=False)

    cookie = answer.response.headers["set-cookie"]

    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie


def test_a_log_in_leads_to_no_other_site() -> None:
    wanted = ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "/a\nb", "elsewhere", ""]

    assert [own_address(each) for each in wanted] == ["/"] * len(wanted)
    assert own_address("/series/new?patient=a&b=c") == "/series/new?patient=a&b=c"


def test_guessing_is_slowed_but_another_name_is_not(anybody: PageClient) -> None:
    for _ in range(OWN.free):
        anybody.log_in("tomke", "wrong words here")

    slowed = anybody.log_in("tomke", PASSWORD)
    other = anybody.log_in("wilna", PASSWORD)

    assert slowed.status == 429
    assert other.h1 == "Series under way"


def test_a_new_password_ends_the_person_s_other_log_ins_and_gives_this_one_a_new_token(client_of) -> None:
    first, second = client_of("tomke"), client_of("tomke")
    before = first._client.cookies["fullcount_login"]
    page = first.submit(
        first.get("/me"), "/me/password", {"present_password": PASSWORD, "password": "four loud herons"}
    )

    assert (page.h1, page.status) == ("Your log-in", 200)
    assert second.get("/patients").h1 == "Log in"
    assert first._client.cookies["fullcount_login"] != before
    assert first.get("/patients").h1 == "Patients"


def test_a_new_password_needs_the_present_one(assistant: PageClient) -> None:
    page = assistant.submit(
        assistant.get("/me"), "/me/password", {"present_password": "guess guess", "password": "four loud herons"}
    )

    assert page.status == 422
    assert page.error_at("present_password").startswith("This is not your present password")


def first_start(client: PageClient, **changes: str) -> object:
    values = {
        "code": client.application.state.first_code.shown,
        "practice_name": "Heron Lane",
        "name": "Dr Wilna Achterberg",
        "login": "wilna",
        "password": PASSWORD,
        "dentist": "yes",
    }
    return client.submit(client.get("/first-start"), "/first-start", values | changes)


def test_an_empty_machine_leads_to_the_first_start(empty_machine: PageClient) -> None:
    page = empty_machine.get("/")

    assert page.h1 == "Set up your practice"


def test_the_code_of_the_terminal_sets_up_the_practice(empty_machine: PageClient) -> None:
    page = first_start(empty_machine)

    assert page.h1 == "Rooms and receptors"
    assert "Dr Wilna Achterberg, dentist" in page.text


def test_a_wrong_code_sets_up_nothing(empty_machine: PageClient) -> None:
    page = first_start(empty_machine, code="aaaa-bbbb-cccc")

    assert page.status == 422
    assert page.error_at("code").startswith("This is not the code")
    assert empty_machine.get("/").h1 == "Set up your practice"


def test_the_code_is_read_whatever_its_dashes_and_capitals(empty_machine: PageClient) -> None:
    code = empty_machine.application.state.first_code.shown

    page = first_start(empty_machine, code=" " + code.replace("-", " ").upper())

    assert page.h1 == "Rooms and receptors"


def test_the_first_start_cannot_be_done_twice(empty_machine: PageClient) -> None:
    first_start(empty_machine)

    page = empty_machine.get("/first-start")

    assert page.path == "/"


def test_a_short_password_is_told_at_its_field(empty_machine: PageClient) -> None:
    page = first_start(empty_machine, password="short")

    assert page.error_at("password") == "a password needs at least 10 characters. Use a few words"
    assert page.find("#f-practice_name")["value"] == "Heron Lane"


def test_the_first_start_says_whether_the_administrator_is_the_dentist_too(empty_machine: PageClient) -> None:
    page = first_start(empty_machine, dentist="")

    assert page.error_at("dentist") == "say whether you are the dentist too. Choose one of the two"
    assert empty_machine.get("/").h1 == "Set up your practice"


def test_whoever_only_administers_is_led_to_add_the_dentist(empty_machine: PageClient) -> None:
    page = first_start(empty_machine, dentist="no")

    assert page.h1 == "Staff"
    assert "Add your colleagues here, the dentist first." in page.text
    assert empty_machine.get("/patients").status == 403
