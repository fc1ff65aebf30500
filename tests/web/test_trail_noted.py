"""What people see, take away, and are refused stands in the trail before it reaches them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from fastapi.routing import APIRoute
from sqlalchemy import text

from app.storage.trail import TrailEntry
from app.web import access
from app.web.application import routers
from app.web.noted_routes import NOTED, PLAIN
from tests.making import a_series, loaded
from tests.people import PASSWORD, Practice, a_patient
from tests.storage.trail_rows import entries
from tests.web.client import PageClient


def last(practice: Practice, kind: str) -> TrailEntry:
    """The newest entry of a kind."""
    return entries(practice.store, kind)[-1]


def details(entry: TrailEntry) -> dict[str, object]:
    """What stands beside it."""
    found: dict[str, object] = json.loads(entry.details)
    return found


@contextmanager
def locked(practice: Practice) -> Iterator[None]:
    """The database refuses every further entry."""
    with practice.store.engine.begin() as connection:
        connection.execute(
            text("CREATE TRIGGER full BEFORE INSERT ON trail_entry BEGIN SELECT RAISE(ABORT, 'no space'); END")
        )
    yield
    with practice.store.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER full"))


def test_every_route_that_is_asked_with_get_says_what_it_leaves() -> None:
    """A new one fails here until it stands under NOTED or PLAIN of app/web/noted_routes.py."""
    known = {path for method, path in NOTED if method == "GET"} | PLAIN
    asked = {
        route.path
        for router in routers()
        for route in router.routes
        if isinstance(route, APIRoute) and "GET" in route.methods
    }

    assert asked == known
    assert not {path for method, path in NOTED if method == "GET"} & PLAIN
    assert set(NOTED) <= set(access.ACCESS)


def test_an_image_seen_says_who_whose_and_from_where(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    series = a_series(practice)
    loaded(practice, series, slot="UR-molar")
    (name,) = practice.store.images.names()
    tomke = client_of("tomke")
    answer = tomke.get(f"/images/{name}?side=320")
    tomke.get(f"/images/{name}?side=320")
    made = entries(practice.store, "view")

    assert (answer.status, len(made)) == (200, 1)
    assert (made[0].who, made[0].acting_as, made[0].what) == (practice.assistant.staff_id, "assistant", "image")
    assert (made[0].patient_id, made[0].series_id) == (series.patient_id, series.id)
    assert (made[0].from_where, len(made[0].request_id)) == ("127.0.0.1", 16)
    assert details(made[0]) == {"sha256": name, "through": "GET /images/{sha256}"}


def test_a_picture_that_the_browser_still_has_is_seen_too(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    loaded(practice, a_series(practice), slot="UR-molar")
    (name,) = practice.store.images.names()
    tag = client_of("wilna").get(f"/images/{name}").response.headers["etag"]
    answer = client_of("tomke").get(f"/images/{name}", headers={"If-None-Match": tag})

    assert answer.status == 304
    assert [each.who for each in entries(practice.store, "view")] == [
        practice.dentist.staff_id,
        practice.assistant.staff_id,
    ]


def test_a_picture_whose_view_cannot_be_noted_is_not_shown(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    loaded(practice, a_series(practice), slot="UR-molar")
    (name,) = practice.store.images.names()
    tomke = client_of("tomke")
    with locked(practice):
        answer = tomke.get(f"/images/{name}")
    afterwards = tomke.get(f"/images/{name}")

    assert answer.status == 503
    assert "could not be put into the trail" in answer.text
    assert b"PNG" not in answer.response.content
    assert afterwards.status == 200


def test_pages_with_images_name_series_and_patient(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    wilna = client_of("wilna")
    for address in (f"/series/{series.id}", f"/series/{series.id}/record", f"/exposures/{exposure.id}/review"):
        assert wilna.get(address).status == 200
    made = entries(practice.store, "view")

    assert [each.what for each in made] == ["series", "record of a series", "review of an image"]
    assert {(each.patient_id, each.series_id) for each in made} == {(series.patient_id, series.id)}


def test_an_image_of_nobody_here_leaves_no_view(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    loaded(practice, a_series(practice), slot="UR-molar")
    (name,) = practice.store.images.names()
    answer = client_of("isko").get(f"/images/{name}")

    assert answer.status == 404
    assert entries(practice.store, "view") == []


def test_every_export_is_an_entry_of_its_own(practice: Practice, client_of: Callable[[str], PageClient]) -> None:
    pell = client_of("pell")
    for _ in range(2):
        assert pell.get("/exports/patients.csv").status == 200
    made = entries(practice.store, "export")

    assert [(each.who, each.what) for each in made] == [(practice.front_desk.staff_id, "patients, as CSV")] * 2


def test_coming_and_going_names_the_person(practice: Practice, client_of: Callable[[str], PageClient]) -> None:
    tomke = client_of("tomke")
    arrived = last(practice, "log_in")
    tomke.post("/logout")
    left = last(practice, "log_out")

    assert (arrived.who, arrived.practice_id) == (practice.assistant.staff_id, practice.assistant.practice_id)
    assert (left.who, left.acting_as) == (practice.assistant.staff_id, "assistant")
    assert arrived.from_where == left.from_where == "127.0.0.1"


def test_a_failed_log_in_names_the_person_but_never_what_was_typed(
    practice: Practice, anybody: PageClient
) -> None:
    anybody.log_in("wilna", "not the password")
    known = last(practice, "log_in_failed")
    anybody.log_in("my secret password", "x")
    unknown = last(practice, "log_in_failed")
    kept = json.dumps([each.model_dump(mode="json") for each in entries(practice.store)])

    assert (known.who, known.what) == (practice.dentist.staff_id, "wrong password")
    assert (unknown.who, unknown.practice_id, unknown.what) == ("", "", "no such log-in name")
    assert "secret" not in kept
    assert "not the password" not in kept
    assert PASSWORD not in kept


def test_a_refused_role_is_noted_with_route_and_person(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    series = a_series(practice)
    answer = client_of("pell").get(f"/series/{series.id}")
    made = last(practice, "refusal")

    assert answer.status == 403
    assert (made.who, made.acting_as, made.what) == (
        practice.front_desk.staff_id,
        "front_desk",
        "not open to this person",
    )
    assert details(made) == {"status": 403, "through": "GET /series/{series_id}"}
    assert entries(practice.store, "view") == []


def test_another_site_that_uses_a_persons_browser_is_noted_with_that_person(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    answer = client_of("tomke").post("/logout", headers={"Sec-Fetch-Site": "cross-site"})
    made = last(practice, "refusal")

    assert answer.status == 403
    assert (made.who, made.what) == (
        practice.assistant.staff_id,
        "sent from another site, or from a page open too long",
    )
    assert details(made)["through"] == "POST /logout"


def test_a_refusal_stays_one_though_it_cannot_be_noted(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    pell = client_of("pell")
    with locked(practice):
        answer = pell.get("/quality")

    assert answer.status == 403


def test_a_change_says_who_in_the_thread_that_does_it(
    practice: Practice, client_of: Callable[[str], PageClient]
) -> None:
    """Routes run in threads; who is at work goes with them."""
    tomke = client_of("tomke")
    form = tomke.get("/patients/new")
    values = {"chart_number": "T1", "name": "Ottoline Rusk", "birth_date": "1990-02-03"}
    tomke.submit(form, "/patients/new", values)
    made = last(practice, "change")

    assert (made.who, made.from_where) == (practice.assistant.staff_id, "127.0.0.1")
    assert details(made)["through"] == "POST /patients/new"
    assert made.patient_id
    assert "Ottoline" not in made.details + made.what


def test_the_start_of_the_server_is_noted(practice: Practice, anybody: PageClient) -> None:
    anybody.get("/login")
    made = last(practice, "start")

    assert (made.from_where, made.who) == ("program", "")


@pytest.mark.parametrize("address", ["/cautions", "/patients", "/"])
def test_a_plain_page_leaves_nothing(
    practice: Practice, client_of: Callable[[str], PageClient], address: str
) -> None:
    a_patient(practice)
    tomke = client_of("tomke")
    before = len(entries(practice.store))
    tomke.get(address)

    assert len(entries(practice.store)) == before
