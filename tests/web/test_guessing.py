"""Guessing at the doors: slowed everywhere, tells nothing, and locks nobody out of treatment."""

from __future__ import annotations

from collections.abc import Callable

import httpx
import pytest
import time_machine

from app.work.tries import NAME, OWN
from tests.people import PASSWORD, Practice
from tests.web.client import ORIGIN, Page, PageClient
from tests.web.test_coming_and_going import first_start
from tests.web.test_second_factor_pages import half_in, set_up

WRONG = "wrong words here"


@pytest.fixture
def from_address(client_of: Callable[[], PageClient]) -> Callable[[str], PageClient]:
    """Makes a browser at a network address."""

    def make(address: str) -> PageClient:
        client = client_of()
        client._client = httpx.AsyncClient(
            transport=httpx.ASGITransport(
                app=client.application, client=(address, 4711), raise_app_exceptions=False
            ),
            base_url=ORIGIN,
        )
        return client

    return make


def guess(client: PageClient, login: str = "tomke", password: str = WRONG) -> Page:
    return client.post("/login", {"login": login, "password": password})


@pytest.fixture(autouse=True)
def clock() -> object:
    """So that no wait ends while a test is slow."""
    with time_machine.travel("2026-03-27 12:00:00+00:00", tick=False) as clock:
        yield clock


def test_a_guesser_is_told_how_long_to_wait(from_address: Callable[[str], PageClient]) -> None:
    guesser = from_address("203.0.113.9")
    statuses = [guess(guesser).status for _ in range(OWN.free + 1)]
    slowed = guess(guesser, password=PASSWORD)

    assert statuses == [401] * OWN.free + [429]
    assert slowed.response.headers["retry-after"] == "2"
    assert slowed.error_at("login") == "Several tries have failed. Wait 2 seconds, then try again."


def test_the_right_password_opens_after_the_wait(
    from_address: Callable[[str], PageClient], clock: time_machine.Traveller
) -> None:
    guesser = from_address("203.0.113.9")
    for _ in range(OWN.free + 1):
        guess(guesser)
    clock.shift(3)

    assert guess(guesser, password=PASSWORD).h1 == "Series under way"


def test_whatever_strangers_do_the_person_gets_in_at_once_at_their_machine(
    from_address: Callable[[str], PageClient], client_of: Callable[[str], PageClient]
) -> None:
    """From many addresses, and from the address of the practice itself."""
    own = client_of("tomke")
    own.post("/logout")
    for number in range(NAME.free + 5):
        guess(from_address(f"203.0.113.{number}"))
    neighbour = client_of("")
    for _ in range(2 * OWN.free):
        last = guess(neighbour)

    assert last.status == 429
    assert own.log_in("tomke", PASSWORD).h1 == "Series under way"


def test_many_addresses_are_slowed_for_one_name(from_address: Callable[[str], PageClient]) -> None:
    statuses = [guess(from_address(f"203.0.113.{number}")).status for number in range(NAME.free + 3)]

    assert statuses == [401] * NAME.free + [429] * 3


def test_no_answer_tells_which_names_exist(from_address: Callable[[str], PageClient]) -> None:
    """The same pages with the same words, wrong or made to wait, but for the name that was typed itself."""
    real, nobody = from_address("203.0.113.9"), from_address("203.0.113.10")

    def told(client: PageClient, login: str) -> list[tuple[int, list[str], str]]:
        pages = [guess(client, login) for _ in range(OWN.free + 2)]
        return [(page.status, page.errors(), page.h1) for page in pages]

    assert told(real, "tomke") == told(nobody, "nobody")


def test_codes_are_slowed_whatever_half_finished_log_in_they_belong_to(
    assistant: PageClient, from_address: Callable[[str], PageClient]
) -> None:
    """Somebody who knows the password cannot guess on by giving it again."""
    set_up(assistant)
    guesser = from_address("203.0.113.9")
    statuses = []
    for _ in range(2):
        half_in(guesser)
        for _ in range(4):
            statuses.append(guesser.post("/login/code", {"code": "000000"}).status)

    assert statuses[: OWN.free] == [401] * OWN.free
    assert set(statuses[OWN.free :]) == {429}


@pytest.mark.parametrize(
    ("address", "field"),
    [
        ("/me/password", "present_password"),
        ("/me/pin", "pin_password"),
        ("/me/second-factor/begin", "present_password"),
    ],
)
def test_one_s_password_asked_again_is_slowed(assistant: PageClient, address: str, field: str) -> None:
    """Somebody at a machine that was left open cannot try passwords."""
    for _ in range(OWN.free):
        assistant.post(address, {field: WRONG})
    slowed = assistant.post(address, {field: PASSWORD})

    assert slowed.error_at(field).startswith("Several tries have failed")


def test_the_code_of_the_first_start_is_slowed(empty_machine: PageClient) -> None:
    for _ in range(OWN.free):
        first_start(empty_machine, code="aaaa-bbbb-cccc")
    slowed = first_start(empty_machine)

    assert slowed.status == 429
    assert slowed.error_at("code").startswith("Several tries have failed")


def test_a_mistake_in_the_form_of_the_first_start_is_no_wrong_code(empty_machine: PageClient) -> None:
    for _ in range(2 * OWN.free):
        first_start(empty_machine, password="short")

    assert first_start(empty_machine).h1 == "Rooms and receptors"


def test_what_failed_is_still_counted_by_a_server_that_was_started_anew(
    from_address: Callable[[str], PageClient], practice: Practice
) -> None:
    from app.settings import Settings
    from app.web.application import create_application
    from tests.web.client import running

    guesser = from_address("203.0.113.9")
    for _ in range(OWN.free + 1):
        guess(guesser)
    anew = create_application(Settings(data_folder=practice.store.folder, image_workers=0))
    with running([anew]) as portal:
        again = PageClient(portal, anew)
        again._client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app=anew, client=("203.0.113.9", 4711), raise_app_exceptions=False),
            base_url=ORIGIN,
        )
        status = guess(again, password=PASSWORD).status
        again.close()

    assert status == 429
