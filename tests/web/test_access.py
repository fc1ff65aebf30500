"""Who may open what: the table is whole, and it holds."""

from __future__ import annotations

import pytest
from fastapi.routing import APIRoute

from app.web.access import ACCESS, OPEN
from app.web.application import routers
from app.work.actor import Role
from tests.people import Practice
from tests.web.client import PageClient

ROUTES = sorted(
    (method, route.path)
    for router in routers()
    for route in router.routes
    if isinstance(route, APIRoute)
    for method in route.methods
)
LOGINS = {Role.ASSISTANT: "tomke", Role.DENTIST: "wilna", Role.FRONT_DESK: "pell", Role.ADMINISTRATOR: "ruan"}


def test_every_route_stands_in_the_table() -> None:
    missing = [route for route in ROUTES if route not in ACCESS]

    assert missing == [], "add these to app/web/access.py"


def test_the_table_names_no_route_that_is_gone() -> None:
    gone = [route for route in ACCESS if route not in ROUTES]

    assert gone == [], "take these out of app/web/access.py"


def filled(path: str) -> str:
    """The path with something in every place; nothing of it exists."""
    return "/".join("none" if part.startswith("{") else part for part in path.split("/"))


@pytest.mark.parametrize("role", list(Role))
def test_a_role_that_is_not_listed_is_refused_everywhere(client_of, role: Role) -> None:
    client = client_of(LOGINS[role])
    shut = [route for route in ROUTES if (roles := ACCESS[route]) is not OPEN and role not in roles]

    let_in = [
        (method, path)
        for method, path in shut
        if client.request(
            method, filled(path), data={"csrf_token": client.token()} if method == "POST" else None
        ).status
        != 403
    ]

    assert let_in == []


@pytest.mark.parametrize("role", list(Role))
def test_a_role_that_is_listed_is_not_refused(client_of, role: Role) -> None:
    client = client_of(LOGINS[role])
    open_pages = [path for (method, path), roles in ACCESS.items() if method == "GET" and roles and role in roles]

    refused = [path for path in open_pages if client.get(filled(path)).status in (401, 403)]

    assert refused == []


def test_without_a_log_in_every_page_leads_to_the_log_in(anybody: PageClient) -> None:
    closed = [path for method, path in ROUTES if method == "GET" and ACCESS[(method, path)] is not OPEN]

    shown = [path for path in closed if anybody.get(filled(path), follow=False).status != 303]

    assert shown == []


def test_without_a_log_in_nothing_can_be_sent(anybody: PageClient) -> None:
    closed = [path for method, path in ROUTES if method == "POST" and ACCESS[(method, path)] is not OPEN]

    done = [path for path in closed if anybody.request("POST", filled(path), data={"a": "b"}).status != 401]

    assert done == []


def test_a_page_asked_for_before_the_log_in_is_shown_after_it(anybody: PageClient) -> None:
    form = anybody.get("/patients?q=ada")

    page = anybody.submit(form, "/login", {"login": "tomke", "password": "three quiet herons"})

    assert (page.h1, page.path) == ("Patients", "/patients?q=ada")


def test_a_stranger_sees_nothing_of_this_practice(client_of, practice: Practice) -> None:
    from tests.people import a_patient

    patient = a_patient(practice)
    stranger = client_of("isko")

    answers = {tail: stranger.get(f"/patients/{patient.id}{tail}").status for tail in ("", "/edit", "/chart")}

    assert answers == {"": 404, "/edit": 404, "/chart": 404}
    assert "Ada" not in stranger.get("/patients").text
