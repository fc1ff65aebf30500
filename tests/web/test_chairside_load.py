"""Loading files: each is taken or refused by itself, and says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from app.storage.series import SeriesRow
from app.work.audit_series import exposures_of
from tests.making import a_series, image_file, loaded
from tests.people import Practice, a_patient
from tests.web.chairside_people import closed_series
from tests.web.client import Page, PageClient, words

PROGRAM = {"Accept": "application/json"}


def send(
    client: PageClient,
    series: SeriesRow,
    *files: tuple[str, bytes],
    headers: dict[str, str] | None = None,
    **data: Any,
) -> Page:
    """A multipart form, as a browser or (with headers) our script sends it."""
    return client.request(
        "POST",
        f"/series/{series.id}/images",
        data={"csrf_token": client.token(), **data},
        files=[("files", (name, content)) for name, content in files],
        headers=headers,
    )


def slots(practice: Practice, series: SeriesRow) -> list[str | None]:
    """The slots of the series' images, in order."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return [each.slot for each in exposures_of(scope, series.id)]


def test_a_file_for_a_slot_lands_in_it(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    page = send(assistant, series, ("a.png", image_file()), slot="UR-molar")

    assert page.path == f"/series/{series.id}?note=images-loaded"
    assert page.find('.cell-film[aria-label^="Upper right molar: not reviewed"]')


def test_many_files_in_one_form_lead_to_the_proposal(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    page = send(assistant, series, *[(f"{n}.png", image_file(n)) for n in range(1, 5)])

    assert page.h1 == "Which image for which slot"
    assert len(page.all(".piece")) == 4


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF", "BMP"])
def test_every_usual_format_is_taken(assistant: PageClient, practice: Practice, kind: str) -> None:
    series = a_series(practice)

    answer = send(assistant, series, (f"a.{kind.lower()}", image_file(kind=kind)), headers=PROGRAM)

    assert answer.status == 201
    assert answer.json()["results"][0]["outcome"] == "taken"


def test_the_script_is_told_what_was_taken(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    answer = send(assistant, series, ("a.png", image_file()), headers=PROGRAM, slot="UL-molar")

    (result,) = answer.json()["results"]
    assert (result["name"], result["slot"], result["message"]) == ("a.png", "UL-molar", "taken as image 1.")


def test_a_contradicting_orientation_is_said_at_once(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    upright = image_file(width=60, height=80)

    answer = send(assistant, series, ("a.png", upright), headers=PROGRAM, slot="UL-molar")

    assert "stands upright, but the receptor lies across" in answer.json()["results"][0]["message"]


def test_the_same_file_twice_is_refused_and_says_where_it_is(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1, slot="UR-molar")

    answer = send(assistant, series, ("again.png", image_file(1)), headers=PROGRAM, slot="UL-molar")

    assert answer.status == 409
    assert "already image 1 of this series, in Upper right molar" in answer.json()["results"][0]["message"]
    assert slots(practice, series) == ["UR-molar"]


def test_the_same_file_of_another_patient_stops_until_somebody_is_sure(
    assistant: PageClient, practice: Practice
) -> None:
    loaded(practice, a_series(practice), 1)
    series = a_series(practice, patient_id=a_patient(practice, "H200").id)

    page = send(assistant, series, ("a.png", image_file(1)), slot="UR-molar")
    assert page.status == 422
    assert "another patient, chart H100" in page.errors()[0]
    assert page.find('input[name="sure"]')
    assert slots(practice, series) == []

    send(assistant, series, ("a.png", image_file(1)), slot="UR-molar", sure="yes")
    assert slots(practice, series) == ["UR-molar"]


@pytest.mark.parametrize(
    ("name", "content"),
    [("a.png", b""), ("a.png", b"this is a letter"), ("a.jpg", image_file(kind="JPEG")[:900])],
)
def test_what_is_no_image_is_refused_by_name_and_nothing_is_kept(
    assistant: PageClient, practice: Practice, name: str, content: bytes
) -> None:
    series = a_series(practice)

    page = send(assistant, series, (name, content))

    assert page.status == 422
    assert page.errors()[0].startswith(f"{name}: ")
    assert slots(practice, series) == []
    assert practice.store.images.names() == []


def test_good_files_are_taken_beside_a_bad_one(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    page = send(assistant, series, ("good.png", image_file(1)), ("bad.png", b"no"), ("fine.png", image_file(2)))

    assert page.status == 422
    assert len(page.errors()) == 1
    assert slots(practice, series) == [None, None]


def test_an_unknown_slot_is_refused_with_the_nearest_one(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    answer = send(assistant, series, ("a.png", image_file()), headers=PROGRAM, slot="UR-molr")

    assert answer.status == 422
    assert 'Did you mean "UR-molar"?' in answer.json()["results"][0]["message"]


def test_a_filled_slot_takes_no_second_file_without_an_order(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1, slot="UR-molar")

    page = send(assistant, series, ("b.png", image_file(2)), slot="UR-molar")

    assert "Order a retake first" in page.errors()[0]


def test_no_file_chosen_is_said(assistant: PageClient, practice: Practice) -> None:
    page = assistant.post(f"/series/{a_series(practice).id}/images", {"slot": ""})

    assert page.status == 422
    assert "no file was chosen" in page.text


def test_a_file_name_with_html_is_only_a_name(assistant: PageClient, practice: Practice) -> None:
    page = send(assistant, a_series(practice), ("<script>x.png", b"no"))

    assert "<script>x" in words(page.find(".load-files"))


def test_a_closed_series_takes_nothing_more(assistant: PageClient, practice: Practice) -> None:
    page = send(assistant, closed_series(practice), ("a.png", image_file(99)))

    assert page.status == 409
    assert "closed" in page.text


def test_the_front_desk_loads_nothing(front_desk: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    assert send(front_desk, series, ("a.png", image_file())).status == 403
    assert slots(practice, series) == []


def test_another_practice_loads_nothing(client_of: Callable[[str], PageClient], practice: Practice) -> None:
    series = a_series(practice)

    assert send(client_of("isko"), series, ("a.png", image_file())).status == 404
    assert slots(practice, series) == []
