"""The second factor on its pages: set up, asked for, lost, switched off."""

from __future__ import annotations

import struct
from datetime import timedelta

import time_machine

from app.storage.columns import now
from tests.people import PASSWORD, Practice
from tests.web.client import Page, PageClient, words
from tests.work.log_in_use_cases import code_now

ADDRESS = "/me/second-factor"


def set_up(client: PageClient) -> tuple[str, list[str], Page]:
    """Secret, recovery codes, and the page that showed them."""
    page = client.submit(client.get(ADDRESS), f"{ADDRESS}/begin", {"present_password": PASSWORD})
    secret = words(page.find("code")).replace(" ", "")
    shown = client.submit(page, f"{ADDRESS}/confirm", {"code": code_now(secret)})
    return secret, [words(each) for each in shown.all(".recovery-codes code")], shown


def half_in(client: PageClient, login: str = "tomke") -> Page:
    return client.log_in(login, PASSWORD)


def test_it_is_set_up_with_the_password_and_one_code_and_shows_ten_codes_once(assistant: PageClient) -> None:
    before = assistant._client.cookies["fullcount_login"]
    _, codes, shown = set_up(assistant)
    again = assistant.get(ADDRESS)

    assert len(set(codes)) == 10
    assert shown.response.headers["cache-control"] == "no-store"
    assert not [code for code in codes if code in again.text]
    assert "10 of 10 recovery codes are left" in words(again.find("main"))
    assert assistant._client.cookies["fullcount_login"] != before


def test_the_picture_is_an_image_of_our_own_that_nobody_keeps(assistant: PageClient) -> None:
    page = assistant.submit(assistant.get(ADDRESS), f"{ADDRESS}/begin", {"present_password": PASSWORD})
    picture = assistant.get(str(page.find("img.factor-picture")["src"])).response
    width, height = struct.unpack(">II", picture.content[16:24])

    assert picture.headers["content-type"] == "image/png"
    assert picture.headers["cache-control"] == "no-store"
    assert picture.content.startswith(b"\x89PNG\r\n\x1a\n")
    assert width == height > 200


def test_the_picture_is_gone_once_it_is_confirmed(assistant: PageClient) -> None:
    set_up(assistant)

    assert assistant.get(f"{ADDRESS}/picture.png").status == 404


def test_a_wrong_password_sets_nothing_up(assistant: PageClient) -> None:
    page = assistant.submit(assistant.get(ADDRESS), f"{ADDRESS}/begin", {"present_password": "wrong words"})

    assert page.error_at("present_password").startswith("This is not your present password")
    assert assistant.get(f"{ADDRESS}/picture.png").status == 404


def test_after_the_password_the_code_is_asked_and_opens_the_page_asked_for(
    assistant: PageClient, anybody: PageClient
) -> None:
    secret, _, _ = set_up(assistant)
    form = anybody.get("/patients?q=ada")
    asked = anybody.submit(form, "/login", {"login": "tomke", "password": PASSWORD})
    with time_machine.travel(now() + timedelta(minutes=1), tick=False):
        inside = anybody.submit(asked, "/login/code", {"code": code_now(secret)})

    assert asked.h1 == "Your code"
    assert inside.path == "/patients?q=ada"


def test_a_half_finished_log_in_has_no_rights_at_all(assistant: PageClient, anybody: PageClient) -> None:
    set_up(assistant)
    half_in(anybody)
    half = anybody._client.cookies["fullcount_half"]
    pages = [anybody.get(address).h1 for address in ("/", "/patients", "/me", ADDRESS, "/practice")]
    written = anybody.post("/patients/new", {"name": "Odo", "chart_number": "H7", "birth_date": "2018-02-03"})
    anybody._client.cookies.set("fullcount_login", half, domain="fullcount.test")

    assert pages == ["Log in"] * 5
    assert written.status == 401
    assert anybody.get("/patients").h1 == "Log in"


def test_a_wrong_code_is_told_and_the_fifth_asks_for_the_password_again(
    assistant: PageClient, anybody: PageClient
) -> None:
    set_up(assistant)
    page = half_in(anybody)
    for _ in range(4):
        page = anybody.submit(page, "/login/code", {"code": "000000"})
        assert page.error_at("code").startswith("This code is wrong")
    last = anybody.submit(page, "/login/code", {"code": "000000"})

    assert last.h1 == "Log in"
    assert "too many codes were wrong" in last.text
    assert anybody.get("/login/code").h1 == "Log in"


def test_a_recovery_code_opens(assistant: PageClient, anybody: PageClient) -> None:
    _, codes, _ = set_up(assistant)
    page = anybody.submit(half_in(anybody), "/login/code", {"code": codes[3]})

    assert page.h1 == "Series under way"
    assert "9 of 10 recovery codes are left" in words(assistant.get(ADDRESS).find("main"))


def test_it_is_switched_off_with_the_password_only(assistant: PageClient, anybody: PageClient) -> None:
    set_up(assistant)
    refused = assistant.submit(assistant.get(ADDRESS), f"{ADDRESS}/off", {"off_password": "wrong words"})
    still = half_in(anybody).h1
    assistant.submit(assistant.get(ADDRESS), f"{ADDRESS}/off", {"off_password": PASSWORD})

    assert refused.error_at("off_password").startswith("This is not your present password")
    assert still == "Your code"
    assert anybody.log_in("tomke", PASSWORD).h1 == "Series under way"


def test_an_administrator_switches_it_off_and_the_person_is_told(client_of, practice: Practice) -> None:
    assistant, administrator = client_of("tomke"), client_of("ruan")
    set_up(assistant)
    address = f"/practice/log-ins/{practice.assistant.staff_id}"
    administrator.submit(administrator.get(address), f"{address}/second-factor/off")

    assert "Ruan Teale switched off your second factor" in assistant.get("/me").text
    assert client_of().log_in("tomke", PASSWORD).h1 == "Series under way"


def test_a_practice_may_ask_it_of_administrators(client_of) -> None:
    """Who asks has it already; who has it not sees their own page and no other until it is set up."""
    first = client_of("ruan")
    refused = first.submit(first.get("/practice/log-ins"), "/practice/log-ins/second-factor", {"asked": "yes"})
    set_up(first)
    kept = first.submit(first.get("/practice/log-ins"), "/practice/log-ins/second-factor", {"asked": "yes"})
    off = first.submit(first.get(ADDRESS), f"{ADDRESS}/off", {"off_password": PASSWORD})

    assert refused.error_at("asked").startswith("set up your own second factor first")
    assert "Administrators need a second factor from now on" in kept.text
    assert off.error_at("off_password") == "your practice asks administrators for a second factor"


def test_an_administrator_who_must_set_it_up_opens_only_their_own_page(client_of, practice: Practice) -> None:
    administrator = client_of("ruan")
    with practice.store.writing(practice.administrator.practice_id) as scope:
        row = scope.practice()
        row.second_factor_asked = True
        scope.session.add(row)
    refused, own = administrator.get("/practice/log-ins"), administrator.get("/me")
    set_up(administrator)

    assert refused.status == 403
    assert "asks administrators for a second factor" in refused.text
    assert "asks administrators for a second factor" in own.text
    assert administrator.get("/practice/log-ins").status == 200
