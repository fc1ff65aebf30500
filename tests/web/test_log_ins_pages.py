"""A person sees and ends their log-ins; an administrator a colleague's."""

from __future__ import annotations

from app.web.browsers import browser_words
from tests.people import PASSWORD, Practice
from tests.web.client import PageClient, words

FIREFOX = {"User-Agent": "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"}


def lines(page) -> list[str]:
    return [words(each) for each in page.all("tbody tr")]


def test_one_s_own_log_ins_tell_the_browser_and_which_is_this_one(client_of) -> None:
    here, there = client_of("tomke"), client_of()
    form = there.get("/login")
    there.submit(form, "/login", {"login": "tomke", "password": PASSWORD}, headers=FIREFOX)
    page = here.get("/me/log-ins")

    assert len(lines(page)) == 2
    assert len([line for line in lines(page) if "this one" in line]) == 1
    assert len([line for line in lines(page) if "Firefox on Linux" in line and "127.0.0.1" in line]) == 1


def test_one_log_in_is_ended_and_this_one_goes_on(client_of) -> None:
    here, there = client_of("tomke"), client_of("tomke")
    page = here.get("/me/log-ins")
    (key,) = [each["value"] for each in page.all('input[name="log_in"]')]
    after = here.post("/me/log-ins/end", {"log_in": key})

    assert len(lines(after)) == 1
    assert there.get("/patients").h1 == "Log in"
    assert here.get("/patients").h1 == "Patients"


def test_all_others_are_ended_at_once(client_of) -> None:
    here, others = client_of("tomke"), [client_of("tomke") for _ in range(3)]
    here.submit(here.get("/me/log-ins"), "/me/log-ins/end-others")

    assert [other.get("/patients").h1 for other in others] == ["Log in"] * 3
    assert here.get("/patients").h1 == "Patients"


def test_a_log_in_that_is_not_one_s_own_is_not_ended(client_of, practice: Practice) -> None:
    dentist, assistant = client_of("wilna"), client_of("tomke")
    client_of("wilna")
    key = dentist.get("/me/log-ins").find('input[name="log_in"]')["value"]
    page = assistant.post("/me/log-ins/end", {"log_in": key})

    assert page.status == 404
    assert len(lines(dentist.get("/me/log-ins"))) == 2


def test_an_administrator_sees_and_ends_a_colleague_s(client_of, practice: Practice) -> None:
    assistant, administrator = client_of("tomke"), client_of("ruan")
    address = f"/practice/log-ins/{practice.assistant.staff_id}"
    listed = administrator.get("/practice/log-ins")
    page = administrator.submit(administrator.get(address), f"{address}/end-all")

    assert "Tomke Rill" in listed.text
    assert page.find(".empty").get_text() == "No log-in of Tomke Rill is under way."
    assert assistant.get("/patients").h1 == "Log in"


def test_others_see_nothing_of_a_colleague_s(dentist: PageClient, practice: Practice) -> None:
    page = dentist.get(f"/practice/log-ins/{practice.assistant.staff_id}")

    assert page.status == 403


def test_a_log_in_always_gets_a_new_token_and_ends_the_one_before(anybody: PageClient) -> None:
    """Whatever token stood in the browser before, and whoever's it was."""
    anybody.log_in("tomke", PASSWORD)
    before = anybody._client.cookies["fullcount_login"]
    anybody.submit(anybody.get("/login?other=yes"), "/login", {"login": "wilna", "password": PASSWORD})
    after = anybody._client.cookies["fullcount_login"]
    anybody._client.cookies.set("fullcount_login", before, domain="fullcount.test")

    assert after != before
    assert anybody.get("/patients").h1 == "Log in"


def test_a_token_that_was_planted_before_the_log_in_opens_nothing_after_it(client_of) -> None:
    victim, thief = client_of(), client_of()
    planted = "planted-token-of-somebody-else-0123456789"
    victim._client.cookies.set("fullcount_login", planted, domain="fullcount.test")
    victim.log_in("tomke", PASSWORD)
    thief._client.cookies.set("fullcount_login", planted, domain="fullcount.test")

    assert thief.get("/patients").h1 == "Log in"


def test_the_cookies_are_kept_from_scripts_and_from_other_sites(anybody: PageClient) -> None:
    answer = anybody.submit(
        anybody.get("/login"), "/login", {"login": "tomke", "password": PASSWORD}, follow=False
    )
    given = {each.split("=", 1)[0]: each for each in answer.response.headers.get_list("set-cookie")}

    assert "HttpOnly" in given["fullcount_login"]
    assert "SameSite=lax" in given["fullcount_login"]
    assert "HttpOnly" in given["fullcount_machine"]
    assert "SameSite=strict" in given["fullcount_machine"]


def test_browsers_are_told_in_plain_words() -> None:
    edge = "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/140.0.0.0 Safari/537.36 Edg/140.0"
    tablet = "Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) AppleWebKit/605.1.15 Version/18.0 Safari/604.1"

    assert [browser_words(each) for each in (edge, tablet, "", "<b>")] == [
        "Edge on Windows",
        "Safari on a tablet",
        "a program that does not say what it is",
        "a program that does not say what it is",
    ]


def test_only_administrators_are_led_to_the_log_ins_of_the_practice(client_of) -> None:
    found = {
        login: bool(client_of(login).get("/me").all('a[href="/practice/log-ins"]'))
        for login in ("ruan", "tomke", "pell")
    }

    assert found == {"ruan": True, "tomke": False, "pell": False}
