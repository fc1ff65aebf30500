"""Every address that takes a POST, PUT, PATCH or DELETE refuses it without our token, or from another site.

The routes are read off the router, so a new one is tried by itself. Each is asked by somebody who may use it, with
things that exist in the places of its address; the database and the files are as they were, and the same request
with the token is not refused for it.
"""

from __future__ import annotations

from typing import Any

import httpx
import pytest
from fastapi.routing import APIRoute
from sqlalchemy import inspect, text

from app.web.access import ACCESS, OPEN
from app.web.application import routers
from app.web.csrf import OPEN_TO_PROGRAMS, SAFE_METHODS
from app.work.actor import Role
from tests.making import a_series, loaded
from tests.people import PASSWORD, Practice, a_patient
from tests.web.client import PageClient

WRITES = sorted(
    (method, route.path)
    for router in routers()
    for route in router.routes
    if isinstance(route, APIRoute)
    for method in route.methods - SAFE_METHODS
    if route.path not in OPEN_TO_PROGRAMS
)
LOGINS = {Role.DENTIST: "wilna", Role.ASSISTANT: "tomke", Role.FRONT_DESK: "pell", Role.ADMINISTRATOR: "ruan"}
TOO_OLD = "This page had been open too long"
FOREIGN = "This was sent from another site"


@pytest.fixture
def places(practice: Practice) -> dict[str, str]:
    """Something real for the places of addresses."""
    patient = a_patient(practice).id
    series = a_series(practice, patient_id=patient)
    exposure = loaded(practice, series, slot="UR-molar")
    return {
        "{patient_id}": patient,
        "{series_id}": series.id,
        "{exposure_id}": exposure.id,
        "{staff_id}": practice.front_desk.staff_id,
        "{key}": "adult-18",
    }


def filled(path: str, places: dict[str, str]) -> str:
    return "/".join(places.get(part, "none") if part.startswith("{") else part for part in path.split("/"))


def who_may(method: str, path: str) -> str:
    roles = ACCESS[(method, path)]
    return next(login for role, login in LOGINS.items() if roles is OPEN or role in roles)


def everything(practice: Practice) -> dict[str, Any]:
    """Every row of every table and every file kept; but not when a log-in was seen last.

    Of the trail only what tells of something done: that it was refused stands there too.
    """
    refused = "log_in_failed", "refusal"
    with practice.store.engine.connect() as connection:
        tables = [name for name in inspect(connection).get_table_names() if name != "trail_head"]
        rows = {
            table: sorted(
                str({name: value for name, value in row.items() if name != "last_seen_at"})
                for row in connection.execute(text(f'SELECT * FROM "{table}"')).mappings()
                if table != "trail_entry" or row["kind"] not in refused
            )
            for table in tables
        }
    return rows | {"files": sorted(practice.store.images.names())}


def forged(token: str, another: str) -> dict[str, tuple[dict[str, str], dict[str, str], str]]:
    """Name, form, headers and expected words of each way in which it is tried."""
    right = {"csrf_token": token}
    return {
        "no token": ({}, {}, TOO_OLD),
        "an empty token": ({"csrf_token": ""}, {}, TOO_OLD),
        "a wrong token": ({"csrf_token": token[:-1] + ("a" if token[-1] != "a" else "b")}, {}, TOO_OLD),
        "a colleague's token": ({"csrf_token": another}, {}, TOO_OLD),
        "a wrong token in the header": ({}, {"X-CSRF-Token": "x" + token[1:]}, TOO_OLD),
        "another site": (right, {"Sec-Fetch-Site": "cross-site"}, FOREIGN),
        "a neighbour of our site": (right, {"Sec-Fetch-Site": "same-site"}, FOREIGN),
        "a foreign origin": (right, {"Sec-Fetch-Site": "", "Origin": "https://elsewhere.example"}, FOREIGN),
        "an origin that is hidden": (right, {"Sec-Fetch-Site": "", "Origin": "null"}, FOREIGN),
        "no origin at all": (right, {"Sec-Fetch-Site": ""}, FOREIGN),
    }


def asked(
    client: PageClient, method: str, address: str, form: dict[str, str], headers: dict[str, str]
) -> httpx.Response:
    """The answer in the shape for programs, which is read quickly."""
    quick = {"Accept": "application/json"} | headers
    return client.request(method, address, data=form, headers=quick, follow=False).response


def test_the_router_has_writes_to_try() -> None:
    assert len(WRITES) > 80
    assert {method for method, _ in WRITES} <= {"POST", "PUT", "PATCH", "DELETE"}


def test_every_write_that_is_forged_is_refused_and_changes_nothing(
    client_of, practice: Practice, places: dict[str, str]
) -> None:
    clients = {login: client_of(login) for login in LOGINS.values()}
    tokens = {login: client.token() for login, client in clients.items()}
    before = everything(practice)
    let_through = []
    for method, path in WRITES:
        login = who_may(method, path)
        another = tokens["tomke" if login != "tomke" else "pell"]
        for way, (form, headers, words) in forged(tokens[login], another).items():
            answer = asked(clients[login], method, filled(path, places), form, headers)
            if answer.status_code != 403 or words not in answer.text:
                let_through.append((method, path, way, answer.status_code))

    assert let_through == []
    assert everything(practice) == before


def test_every_write_with_the_token_is_not_refused_for_it(client_of, places: dict[str, str]) -> None:
    """The refusals above are the token's doing, not something else's."""
    clients = {login: client_of(login) for login in LOGINS.values()}
    tokens = {login: client.token() for login, client in clients.items()}
    refused = []
    for method, path in WRITES:
        login = who_may(method, path)
        client, address = clients[login], filled(path, places)
        answer = asked(client, method, address, {"csrf_token": tokens[login]}, {})
        if answer.status_code in (401, 403):
            # What was sent before may have ended this log-in, or given it a new token.
            client.submit(client.get("/login?other=yes"), "/login", {"login": login, "password": PASSWORD})
            tokens[login] = client.token()
            answer = asked(client, method, address, {"csrf_token": tokens[login]}, {})
        if TOO_OLD in answer.text or FOREIGN in answer.text:
            refused.append((method, path))

    assert refused == []


def test_without_a_log_in_the_open_forms_need_the_visit_s_token(anybody: PageClient, practice: Practice) -> None:
    """Nobody can log a person in, or out, from another site."""
    open_forms = [path for method, path in WRITES if ACCESS[(method, path)] is OPEN]
    token = anybody.token()
    before = everything(practice)
    statuses = {
        (path, way): asked(anybody, "POST", path, form, headers).status_code
        for path in open_forms
        for way, (form, headers, _) in forged(token, "0" * 64).items()
    }

    assert "/login" in open_forms
    assert set(statuses.values()) == {403}
    assert everything(practice) == before
