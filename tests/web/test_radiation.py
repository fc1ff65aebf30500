"""The page that tells what the exposures come to."""

from __future__ import annotations

from app.work.practice import add_room
from tests.people import Practice
from tests.web.chairside_people import faulty_series
from tests.web.client import PageClient, words


def test_it_tells_counts_ranges_the_caution_and_the_sources(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = dentist.get("/quality/radiation")

    text = words(page.find("main"))
    assert "18 exposures, of which no repeats: by published estimates 15 to 390 µSv together" in text
    assert "not the dose of any patient" in text
    assert "verified: S93" in text
    assert "not recorded not recorded 18 0 0.83 to 22 µSv" in text


def test_a_dentist_keeps_the_collimation_and_the_range_narrows(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        room = add_room(scope, practice.dentist, "Garden")

    page = dentist.post("/quality/radiation", {"practice": "rectangular", f"room:{room.id}": "round"})

    assert page.path == "/quality/radiation?note=collimation-kept"
    assert "One exposure as made here: 0.83 to 5.6 µSv" in words(page.find("main"))
    assert page.find(f'select[name="room:{room.id}"] option[selected]')["value"] == "round"


def test_another_word_is_told_at_its_field(dentist: PageClient, practice: Practice) -> None:
    page = dentist.post("/quality/radiation", {"practice": "squre"})

    assert page.status == 422
    assert '"squre" is no collimation' in page.error_at("practice")


def test_an_assistant_sees_their_own_and_no_form(assistant: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = assistant.get("/quality/radiation")

    assert "your own exposures" in words(page.find(".lead"))
    assert not page.all('form[method="post"][action="/quality/radiation"]')
    assert assistant.post("/quality/radiation", {"practice": "round"}).status == 403


def test_the_front_desk_is_not_let_in_and_an_empty_practice_is_told(
    front_desk: PageClient, dentist: PageClient
) -> None:
    assert front_desk.get("/quality/radiation").status == 403
    assert "No exposure was made in this period." in words(dentist.get("/quality/radiation").find("main"))
