"""Every address that names something, asked for by a dentist of another practice: it is not there.

The stranger's dentist also administers, so that it is never the role that refuses.
"""

from __future__ import annotations

import re

import pytest

from app.web.access import ACCESS
from tests.attacks.conftest import ClientOf
from tests.attacks.whole_practice import Whole
from tests.storage.test_two_practices import everything_of
from tests.web.client import PageClient

NAMING = sorted(route for route in ACCESS if re.search(r"\{\w+\}", route[1]))

OPEN_BY_SECRET = {("GET", "/feeds/{secret}.ics")}
"""Whoever has the secret may read it: that is how calendars ask."""

BUILT_IN = {
    ("GET", "/recall/policies/{key}"),
    ("POST", "/recall/policies/{key}"),
}
"""Published tables that come with the program: the same for every practice."""


STREAMS = {"/live/{kind}/{row_id}"}
"""Answers that go on for as long as the page is open; its address beside it, …/version, says the same once."""


def told(client: PageClient, method: str, address: str) -> int:
    """The status of the answer."""
    data = {"csrf_token": client.token()} if method == "POST" else None
    return client.request(method, address, data=data, follow=False).status


@pytest.mark.parametrize(
    "route", [route for route in NAMING if route not in OPEN_BY_SECRET | BUILT_IN], ids=" ".join
)
def test_what_belongs_to_another_practice_is_not_there(
    whole: Whole, browser_of: ClientOf, route: tuple[str, str]
) -> None:
    method, path = route
    before = everything_of(whole.practice.dentist, whole.practice.store)

    client = browser_of("isko")
    status = told(client, method, whole.address(path))
    of_nobody = told(client, method, re.sub(r"\{\w+\}", "0123456789abcdef", path.replace("{position}", "1")))

    assert status == of_nobody
    assert status in (404, 422)
    assert everything_of(whole.practice.dentist, whole.practice.store) == before


@pytest.mark.parametrize("path", [path for method, path in NAMING if method == "GET" and path not in STREAMS])
def test_it_is_there_for_its_own_practice(whole: Whole, browser_of: ClientOf, path: str) -> None:
    """So that the refusals above are for the practice's sake and not for a name that nothing has."""
    assert told(browser_of("wilna"), "GET", whole.address(path)) in (200, 303)


@pytest.mark.parametrize("route", [route for route in NAMING if ACCESS[route] is not None], ids=" ".join)
def test_nobody_who_has_not_logged_in_reaches_it(
    whole: Whole, browser_of: ClientOf, route: tuple[str, str]
) -> None:
    method, path = route
    client = browser_of("")
    data = {"csrf_token": client.token()} if method == "POST" else None

    page = client.request(method, whole.address(path), data=data, follow=False)

    assert page.status == (401 if method == "POST" else 303)
    assert method == "POST" or page.response.headers["location"].startswith("/login")
