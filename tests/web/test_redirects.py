"""No address handed in leads a browser off to another site."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import quote, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.web.notes import go_to
from app.web.pages.going import own_address
from tests.people import PASSWORD, Practice, a_patient
from tests.web.client import ORIGIN, PageClient

ELSEWHERE = "elsewhere.example"
NASTY = [
    "//elsewhere.example",
    "///elsewhere.example",
    "////elsewhere.example/%2e%2e",
    "/\\elsewhere.example",
    "\\/elsewhere.example",
    "\\\\elsewhere.example",
    "/\t/elsewhere.example",
    "\t//elsewhere.example",
    "/\n/elsewhere.example",
    "\r\n//elsewhere.example",
    " //elsewhere.example",
    "\u00a0//elsewhere.example",
    "\x00//elsewhere.example",
    "/%2f%2felsewhere.example",
    "%2f%2felsewhere.example",
    "/%5celsewhere.example",
    "/%09/elsewhere.example",
    "https:elsewhere.example",
    "https:/elsewhere.example",
    "https://elsewhere.example",
    "HTTPS://elsewhere.example",
    "http:\\\\elsewhere.example",
    "//user@elsewhere.example",
    "//fullcount.test@elsewhere.example",
    "https://fullcount.test@elsewhere.example",
    "//fullcount.test.elsewhere.example",
    "/\u2215/elsewhere.example",
    "/\uff0felsewhere.example",
    "\uff0f\uff0felsewhere.example",
    "//elsewhere\u3002example",
    "javascript:alert(1)",
    "java\tscript:alert(1)",
    "data:text/html,<script>alert(1)</script>",
    "elsewhere.example",
    "@elsewhere.example",
    ".elsewhere.example",
    "?next=//elsewhere.example",
    "#//elsewhere.example",
    "/x\r\nLocation: https://elsewhere.example",
    "",
    "/" * 5000 + "elsewhere.example",
]


def leads_to(location: str) -> str:
    """The origin to which a browser goes, read as the URL standard has it.

    WHATWG URL, basic URL parser: spaces and control characters at the ends are dropped, tabs and line ends
    everywhere, and a backslash is a slash (from memory; a test in Chromium asks a real one).
    """
    text = location.strip("".join(map(chr, range(33))))
    text = "".join(letter for letter in text if letter not in "\t\r\n").replace("\\", "/")
    if text.startswith("//"):
        return "http://" + text.lstrip("/").split("/")[0]
    scheme = text.split(":", 1)[0]
    if ":" in text and scheme.isascii() and scheme.replace("+", "").replace("-", "").replace(".", "").isalnum():
        return "/".join(text.split("/")[:3])
    return ORIGIN


def test_a_log_in_leads_to_a_page_of_ours(client_of: Callable[[str], PageClient]) -> None:
    led = {}
    for target in NASTY:
        anybody = client_of("")
        values = {"login": "tomke", "password": PASSWORD, "next": target}
        answer = anybody.submit(anybody.get("/login"), "/login", values, follow=False).response
        led[target] = answer.headers["location"]

    assert {target: location for target, location in led.items() if leads_to(location) != ORIGIN} == {}


def test_the_form_of_the_log_in_carries_no_other_site(anybody: PageClient) -> None:
    pages = {target: anybody.get(f"/login?next={quote(target[:200])}") for target in NASTY}
    kept = {target: str(page.find('input[name="next"]')["value"]) for target, page in pages.items()}

    assert {target: address for target, address in kept.items() if leads_to(address) != ORIGIN} == {}


def test_a_chart_that_is_kept_leads_to_a_page_of_ours(assistant: PageClient, practice: Practice) -> None:
    address = f"/patients/{a_patient(practice).id}/chart"
    form = assistant.get(address)
    led = {
        target: assistant.submit(form, address, {"back": target}, follow=False).response.headers["location"]
        for target in NASTY
    }

    assert {target: location for target, location in led.items() if leads_to(location) != ORIGIN} == {}


PIECES = [
    "/",
    "\\",
    "//",
    "\t",
    "\n",
    "\r",
    " ",
    "\x00",
    ":",
    "@",
    "?",
    "#",
    "%2f",
    "%5c",
    "%09",
    ".",
    "..",
    "https",
]
PIECES += ["http:", "elsewhere.example", "\u2215", "\uff0f", "\u3002", "\u00a0", "\u200b", "\u202e", "a", "&", "="]
LETTERS = "".join(map(chr, range(256))) + "\u2215\uff0f\u3002\u200b\u202e\u2028\ufeff\ud7ff"


@given(st.lists(st.sampled_from(PIECES), max_size=12).map("".join) | st.text(LETTERS, max_size=40))
def test_whatever_is_handed_in_the_address_kept_is_ours(text: str) -> None:
    kept = own_address(text)
    location = go_to(kept, "logged-out").headers["location"]

    assert leads_to(kept) == ORIGIN
    assert leads_to(location) == ORIGIN
    assert kept.isprintable()


@given(st.text("abc/?=&-_.~:@", min_size=1, max_size=30).filter(lambda text: not text.startswith("/")))
def test_an_address_of_ours_is_kept_as_it_is(text: str) -> None:
    assert own_address(f"/{text}") == f"/{text}"


def test_a_page_asked_for_with_two_slashes_leads_nowhere_else(anybody: PageClient) -> None:
    answer = anybody.request("GET", f"{ORIGIN}//elsewhere.example/%2e%2e", follow=False).response

    assert leads_to(answer.headers.get("location", "/")) == ORIGIN
    assert urlsplit(answer.headers.get("location", "/")).netloc == ""


@pytest.mark.parametrize("address", ["//elsewhere.example/login/", "/login/", "/patients/", "/practice//"])
def test_a_slash_too_many_leads_to_no_other_site(anybody: PageClient, address: str) -> None:
    location = anybody.request("GET", f"{ORIGIN}{address}", follow=False).response.headers.get("location", "/")

    assert urlsplit(location).netloc in ("", urlsplit(ORIGIN).netloc)


@pytest.mark.parametrize("text", ["a\r\nSet-Cookie: x=y", "a\nX: y", "a\x00b", "ä\r\n\r\n<html>"])
def test_no_header_is_written_by_what_is_handed_in(anybody: PageClient, text: str) -> None:
    form = anybody.get("/login")
    values = {"login": "tomke", "password": PASSWORD, "next": f"/{text}"}
    answer = anybody.submit(form, "/login", values, follow=False).response

    assert "x" not in answer.headers
    assert all("x=y" not in each for each in answer.headers.get_list("set-cookie"))
    assert all(letter not in value for value in answer.headers.values() for letter in "\r\n\x00")
