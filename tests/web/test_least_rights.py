"""Least rights, sentence by sentence: what a role does not need, it can neither see nor do."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from app.core.errors import InputError
from app.storage.findings import FindingRow
from app.storage.series import ExposureRow, ImageRow
from app.web.access import ACCESS, OPEN
from app.web.rendering import NAV
from app.work.actor import DENTISTS, Actor, NotAllowed, Role
from app.work.close import close_series, sign_off_of
from app.work.recall_prescriptions import prescribe_recall
from app.work.retakes import order_retake, orders_of
from app.work.start_series import start_series
from tests.making import a_finding, a_series
from tests.people import TODAY, Practice, a_patient
from tests.web.chairside_people import faulty_series
from tests.web.client import PageClient, words

Browser = Callable[[str], PageClient]


def opened_to(role: Role) -> list[tuple[str, str]]:
    """The routes of a role, beyond those open to everybody."""
    return [route for route, roles in ACCESS.items() if roles is not OPEN and role in roles]


def test_the_navigation_shows_a_place_exactly_to_those_it_is_open_to() -> None:
    assert {address: roles for _, address, roles in NAV} == {
        address: ACCESS["GET", address] for _, address, _ in NAV
    }


# Front desk


@pytest.mark.parametrize(
    "word", ["image", "series", "exposure", "finding", "retake", "quality", "template", "practice", "chart"]
)
def test_no_route_of_images_or_settings_is_open_to_the_front_desk(word: str) -> None:
    parts = [(method, path) for method, path in opened_to(Role.FRONT_DESK) if word in path.replace("/", " ")]

    assert parts == []


def test_the_front_desk_is_told_nothing_of_any_image(client_of: Browser, practice: Practice) -> None:
    """Neither a picture, nor a file's name, hash or count, nor what was found, reviewed or ordered."""
    series, ids = faulty_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        scope.add(a_finding(ids["LL-canine"], number=7))
        words_of_order = {"slot": "LL-canine", "authorised_by": practice.dentist.staff_id}
        order_retake(scope, practice.assistant, series.id, **words_of_order)
        exposures = scope.all(scope.select(ExposureRow))
        hashes = [each.sha256 for each in scope.all(scope.select(ImageRow))]
        messages = [each.message for each in scope.all(scope.select(FindingRow))]
    secret = {
        series.id,
        *(each.id for each in exposures),
        *(each.original_name for each in exposures),
        *hashes,
        *messages,
    }
    front_desk = client_of("pell")
    patient = series.patient_id
    pages = ["/", "/patients", f"/patients/{patient}", f"/patients/{patient}/edit", "/recall"]
    pages += [
        f"/recall/patients/{patient}",
        f"/recall/patients/{patient}/outside",
        f"/bookings/new?patient={patient}",
    ]
    pages += ["/calendar", "/letters", "/exports/patients.csv", "/exports/recall.csv", "/imports"]
    told = {
        address: [each for each in secret if each and each in page.text]
        + [each for each in ("blurred", "gap", "retake", "/images/", "/series/") if each in words(page.soup.main)]
        for address in pages
        if (page := front_desk.get(address)).status == 200
    }

    assert len(told) == len(pages)
    assert {address: found for address, found in told.items() if found} == {}


def test_the_front_desk_sees_that_a_series_is_open_and_no_more(client_of: Browser, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    table = client_of("pell").get(f"/patients/{series.patient_id}").find("table")

    assert [words(each) for each in table.select("thead th")] == ["Started", "Template", "State"]
    assert words(table.select_one("tbody td:last-child")) == "open"


# Assistants


def test_an_assistant_prescribes_no_recall(practice: Practice) -> None:
    patient = a_patient(practice)

    with (
        pytest.raises(NotAllowed, match="Only a dentist may"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        prescribe(scope, practice.assistant, patient.id)


def prescribe(scope: object, actor: Actor, patient_id: str) -> object:
    return prescribe_recall(
        scope,  # type: ignore[arg-type]
        actor,
        patient_id,
        kind="bitewings",
        interval_months="12",
        reason="high risk",
        ends_on="2028-01-01",
        today=TODAY,
    )


def test_what_is_prescribed_authorised_or_exempted_is_the_dentist_s_in_the_table() -> None:
    theirs = {path for (_, path), roles in ACCESS.items() if roles == DENTISTS}

    assert {
        "/recall/patients/{patient_id}/prescribe",
        "/recall/patients/{patient_id}/risk",
        "/recall/prescriptions/{prescription_id}/withdraw",
        "/series/{series_id}/exemptions",
        "/quality/reports/new",
        "/templates/{key}/edit",
    } <= theirs


@pytest.mark.parametrize(
    "named", ["nobody", "the assistant", "the administrator", "a stranger", "a closed dentist"]
)
@pytest.mark.parametrize("deed", ["start a series", "order a retake", "close with gaps"])
def test_an_assistant_needs_a_dentist_of_this_practice_by_name(practice: Practice, deed: str, named: str) -> None:
    series = a_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        gone = another_dentist(scope, practice, retired=True)
    who = {
        "nobody": "",
        "the assistant": practice.assistant.staff_id,
        "the administrator": practice.administrator.staff_id,
        "a stranger": practice.stranger.staff_id,
        "a closed dentist": gone,
    }[named]

    with (
        pytest.raises(InputError, match="choose the dentist from the list"),
        practice.store.writing(practice.dentist.practice_id) as scope,
    ):
        DEEDS[deed](scope, practice.assistant, series, who)

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert list(orders_of(scope, series.id)) == []
        assert sign_off_of(scope, series.id) is None


def another_dentist(scope: object, practice: Practice, *, retired: bool) -> str:
    from app.work.accounts import add_staff

    row = add_staff(
        scope,  # type: ignore[arg-type]
        practice.administrator,
        name="Dr Gone",
        login="gone",
        role="dentist",
        password="four grey stones",
    )
    row.retired = retired
    return row.id


DEEDS: dict[str, Callable[..., object]] = {
    "start a series": lambda scope, actor, series, who: start_series(
        scope,
        actor,
        patient_id=series.patient_id,
        template_key="bitewings-4",
        prescribed_by=who,
        reason="caries check",
        today=TODAY,
    ),
    "order a retake": lambda scope, actor, series, who: order_retake(
        scope, actor, series.id, slot="UR-molar", authorised_by=who
    ),
    "close with gaps": lambda scope, actor, series, who: close_series(
        scope, actor, series.id, dentist_id=who, reason="patient unwell"
    ),
}


def test_a_retake_names_who_authorised_and_who_ordered_it_on_page_and_record(
    client_of: Browser, practice: Practice
) -> None:
    series, _ = faulty_series(practice)
    assistant = client_of("tomke")
    page = assistant.submit(assistant.get(f"/series/{series.id}"), f"/series/{series.id}/retakes")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (order,) = orders_of(scope, series.id)

    assert (order.authorised_by, order.ordered_by) == (practice.dentist.staff_id, practice.assistant.staff_id)
    assert "Ordered under Dr Wilna Achterberg" in words(page.find(".plan-note"))


def test_a_series_closed_with_gaps_waits_in_sight_of_the_dentist(client_of: Browser, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    client_of("tomke").post(
        f"/series/{series.id}/close", {"reason": "patient unwell", "dentist": practice.dentist.staff_id}
    )
    with practice.store.reading(practice.dentist.practice_id) as scope:
        signed = sign_off_of(scope, series.id)

    assert signed is not None
    assert (signed.closed_by, signed.dentist_id) == (practice.assistant.staff_id, practice.dentist.staff_id)
    assert "patient unwell" in client_of("wilna").get("/").text


# Administrators


CLINICAL = [
    "patient",
    "series",
    "image",
    "exposure",
    "finding",
    "recall",
    "quality",
    "template",
    "letter",
    "calendar",
]
CLINICAL += ["booking", "import", "export", "rooms", "receptor", "loading"]


@pytest.mark.parametrize("word", CLINICAL)
def test_no_clinical_route_is_open_to_an_administrator(word: str) -> None:
    parts = [(method, path) for method, path in opened_to(Role.ADMINISTRATOR) if word in path]

    assert parts == []


def test_an_administrator_s_pages_name_no_patient(client_of: Browser, practice: Practice) -> None:
    faulty_series(practice)
    client = client_of("ruan")
    pages = [path for method, path in opened_to(Role.ADMINISTRATOR) if method == "GET" and "{" not in path]
    shown = {path: client.get(path) for path in pages}

    assert "/practice/staff" in shown
    assert [path for path, page in shown.items() if "Merriweather" in page.text] == []
