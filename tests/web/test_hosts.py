"""Under which names the server answers, and whom it believes where a request comes from."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from pydantic import ValidationError

from app.settings import Settings
from app.web.application import create_application
from app.web.known_hosts import known_names
from tests.people import PASSWORD, Practice
from tests.web.client import PageClient, running

HTTPS = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "203.0.113.9"}


def settings_of(**more: Any) -> Settings:
    return Settings(**{"data_folder": Path("unused"), "hosts": "", **more})


@contextmanager
def application_with(practice: Practice, **more: Any) -> Iterator[Callable[..., httpx.Response]]:
    """Asks an application that has those settings, under any host and from any address."""
    made = create_application(Settings(data_folder=practice.store.folder, image_workers=0, **more))
    with running([made]) as portal:

        def ask(
            address: str = "/login",
            *,
            host: str = "localhost",
            client: str = "127.0.0.1",
            server: str = "",
            headers: dict[str, str] | list[tuple[str, str]] | None = None,
            application: FastAPI = made,
        ) -> httpx.Response:
            transport = httpx.ASGITransport(app=application, client=(client, 50000))
            base = f"http://{server or 'localhost'}"

            async def get() -> httpx.Response:
                async with httpx.AsyncClient(transport=transport, base_url=base) as browser:
                    sent = headers if isinstance(headers, list) else {"Host": host, **(headers or {})}
                    return await browser.get(address, headers=sent)

            return portal.call(get)

        yield ask


def test_the_usual_names_are_known() -> None:
    names = known_names(settings_of(host="192.0.2.7"))

    assert {"localhost", "127.0.0.1", "::1", "192.0.2.7", socket.gethostname().lower()} <= names


@pytest.mark.parametrize(
    "host",
    ["localhost", "LOCALHOST:8123", "127.0.0.1:9", "[::1]:8123", "localhost.", "quay.example", "Quay.Example:443"],
)
def test_a_name_of_this_server_is_answered(practice: Practice, host: str) -> None:
    with application_with(practice, hosts="quay.example, other.example") as ask:
        assert ask(host=host).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "quay.example.evil.example",
        "evil-quay.example",
        "192.0.2.7",
        "xn--qay-ioa.example",
        "localhost.evil.example",
    ],
)
@pytest.mark.parametrize("address", ["/login", "/", "/static/0/base.css", "/health", "/nowhere"])
def test_another_name_is_refused_before_anything_is_done(practice: Practice, host: str, address: str) -> None:
    with application_with(practice, hosts="quay.example") as ask:
        answer = ask(address, host=host)

    assert answer.status_code == 421
    assert "This server is not known as" in answer.text
    assert "FULLCOUNT_HOSTS" in answer.text
    assert "set-cookie" not in answer.headers
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "host",
    [
        "",
        " ",
        "a b",
        "quay.example@evil.example",
        "quay.example/x",
        "quay.example:port",
        "quay.example,evil.example",
        "<b>",
        "[::1",
    ],
)
def test_what_is_no_name_is_refused_and_not_repeated(practice: Practice, host: str) -> None:
    with application_with(practice, hosts="quay.example") as ask:
        answer = ask(host=host)

    assert answer.status_code == 400
    assert "which host it is for (Host)" in answer.text
    assert "evil" not in answer.text


def test_two_hosts_in_one_request_are_refused(practice: Practice) -> None:
    with application_with(practice) as ask:
        answer = ask(headers=[("Host", "localhost"), ("Host", "evil.example")])

    assert answer.status_code == 400


def test_the_number_at_which_the_request_arrived_is_known_and_no_other(practice: Practice) -> None:
    """A name can be pointed anywhere, a number cannot."""
    with application_with(practice) as ask:
        arrived = ask(host="192.0.2.7", server="192.0.2.7").status_code
        elsewhere = ask(host="192.0.2.8", server="192.0.2.7").status_code
        named = ask(host="evil.example", server="evil.example").status_code

    assert (arrived, elsewhere, named) == (200, 421, 421)


def test_a_program_is_refused_in_its_own_shape(practice: Practice) -> None:
    with application_with(practice) as ask:
        answer = ask("/api/audit", host="evil.example")

    assert answer.status_code == 421
    assert answer.json()["error"]["status"] == 421


def test_the_address_of_a_feed_is_built_from_a_name_of_ours_only(dentist: PageClient) -> None:
    page = dentist.post("/calendar/feed", {}, headers={"Host": "evil.example"})

    assert page.status == 421


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("hosts", "https://quay.example"),
        ("hosts", "quay.example:443"),
        ("hosts", "quay example"),
        ("hosts", "*"),
        ("proxies", "proxy.example"),
        ("proxies", "10.0.0.1/8"),
        ("proxies", "*"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_at_the_start(name: str, value: str) -> None:
    with pytest.raises(ValidationError, match=name):
        settings_of(**{name: value})


def test_nobody_is_believed_without_a_setting(practice: Practice) -> None:
    with application_with(practice) as ask:
        answer = ask(headers=HTTPS)

    assert "strict-transport-security" not in answer.headers


@pytest.mark.parametrize(("client", "believed"), [("10.1.2.3", True), ("10.2.0.1", False), ("203.0.113.9", False)])
def test_only_a_proxy_that_was_named_is_believed(practice: Practice, client: str, believed: bool) -> None:
    with application_with(practice, proxies="10.1.0.0/16, 127.0.0.1") as ask:
        answer = ask(client=client, headers=HTTPS)

    assert ("strict-transport-security" in answer.headers) is believed


def test_the_name_comes_from_host_and_never_from_a_forwarded_one(practice: Practice) -> None:
    forwarded = {"X-Forwarded-Host": "localhost", "Forwarded": "host=localhost", "X-Host": "localhost"}
    with application_with(practice, proxies="127.0.0.1") as ask:
        refused = ask(host="evil.example", headers=forwarded)
        answered = ask(headers={"X-Forwarded-Host": "evil.example"})

    assert refused.status_code == 421
    assert answered.status_code == 200
    assert "evil" not in answered.text


def test_https_is_insisted_on_behind_https_only(practice: Practice) -> None:
    with application_with(practice) as ask:
        plain = ask().headers
    with application_with(practice, secure_cookies=True) as ask:
        behind = ask().headers

    assert "strict-transport-security" not in plain
    assert "upgrade-insecure-requests" not in plain["content-security-policy"]
    assert behind["strict-transport-security"] == "max-age=31536000; includeSubDomains"
    assert "upgrade-insecure-requests" in behind["content-security-policy"]


def test_behind_https_every_cookie_is_held_to_this_host(practice: Practice) -> None:
    """``__Host-``, Secure, path / and no domain: ASVS 5.0 (late draft), 3.3.1 to 3.3.4."""
    made = create_application(Settings(data_folder=practice.store.folder, image_workers=0, secure_cookies=True))
    with running([made]) as portal:
        client = PageClient(portal, made)
        client._client.base_url = httpx.URL("https://fullcount.test")
        form = client.get("/login")
        first = form.response.headers["set-cookie"]
        answer = client.submit(form, "/login", {"login": "tomke", "password": PASSWORD}, follow=False)
        second = answer.response.headers["set-cookie"]
        client.close()

    for cookie in (first, second):
        assert cookie.startswith("__Host-fullcount_")
        assert all(part in cookie for part in ("Secure", "HttpOnly", "Path=/", "SameSite=lax"))
        assert "domain" not in cookie.lower()
    assert answer.status == 303
