"""The pages of a grading sample: drawing it, and reading it blind."""

from __future__ import annotations

from datetime import UTC, datetime

from tests.people import Practice
from tests.web.chairside_people import faulty_series
from tests.web.client import Page, PageClient, words

TODAY = datetime.now(UTC).date().isoformat()


def draw(dentist: PageClient, size: str = "3", **changed: str) -> Page:
    """Through the form."""
    page = dentist.get("/quality/grading")
    form = {"from_day": TODAY, "to_day": TODAY, "size": size, "seed": "heron"} | changed
    return dentist.submit(page, "/quality/grading", form)


def sample_address(page: Page) -> str:
    """Where the drawn sample stands."""
    return page.path.split("?")[0]


def read_all(client: PageClient, address: str, grade: str = "A") -> Page:
    """Every image, one after the other, as the page leads on."""
    page = client.get(f"{address}/next")
    while "/images/" in page.path:
        page = client.post(page.path.split("?")[0], {"grade": grade})
    return page


def test_a_dentist_draws_a_sample_and_is_told_how(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = draw(dentist)

    assert page.h1 == "Sample of 3 images"
    text = words(page.find("main"))
    assert "simple random" in text
    assert "18 reviewed images of that period" in text
    assert "Seed heron" in text
    assert "Begin reading: 3 waiting" in text


def test_a_wrong_draw_comes_back_with_what_was_typed(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)

    page = draw(dentist, "40")

    assert page.status == 422
    assert page.error_at("size").startswith("40 images are wanted, but 18 reviewed images were taken")
    assert page.find("#f-size")["value"] == "40"
    assert page.find("#f-seed")["value"] == "heron"


def test_the_reader_sees_the_picture_and_its_view_and_nothing_of_the_first_reading(
    dentist: PageClient, practice: Practice
) -> None:
    """Every image of a series with three faults: no fault, name, grade or patient."""
    faulty_series(practice)
    address = sample_address(draw(dentist, "18"))
    telling = ("overlap", "apex", "blur", "Tomke", "Merriweather", "H100", "shortfall", "retake", "first")

    for position in range(1, 19):
        page = dentist.get(f"{address}/images/{position}")
        seen = words(page.find(".reading-parts"))
        for each in page.all("details"):
            seen = seen.replace(words(each), "")
        raw = str(page.find(".reading-picture"))

        assert page.find(".reading-picture image")["href"].startswith("/images/")
        assert not [each for each in telling if each.lower() in (seen + raw).lower()]
        assert not page.all("a[href*='/exposures/'], a[href*='/series/']")
        assert not page.all("button[aria-pressed]")


def test_reading_to_the_end_shows_the_agreement(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist, "18"))

    page = read_all(dentist, address)

    assert page.path == f"{address}?note=sample-read"
    text = words(page.find("main"))
    assert "Graded alike 15 of 18" in text
    assert "Cohen's kappa 0.00" in text
    assert len(page.all("table")[-1].select("tbody tr")) == 3


def test_a_grade_is_kept_at_once_and_leads_to_the_next(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist))

    page = dentist.post(f"{address}/images/1", {"grade": "N"})
    back = dentist.get(f"{address}/images/1")

    assert page.path == f"{address}/images/2"
    assert "1 of 3 read; you graded this one N" in words(back.find(".reading-progress"))


def test_a_button_for_each_grade_has_its_key(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist, scheme="three-grades-1994"))

    page = dentist.get(f"{address}/next")

    assert [each["data-key"] for each in page.all("button[data-key]")] == ["1", "2", "3"]


def test_a_grade_that_is_none_is_refused(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist))

    page = dentist.post(f"{address}/images/1", {"grade": "Z"})

    assert page.status == 422
    assert page.errors() == ['"Z" is no grade of this scheme. Choose A or N']


def test_who_reviewed_the_images_is_sent_to_a_colleague(
    dentist: PageClient, assistant: PageClient, practice: Practice
) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist))

    listed = assistant.get("/quality/grading")
    page = assistant.get(address)
    image = assistant.get(f"{address}/images/1")

    assert "waits for a colleague" in words(listed.find("table"))
    assert "3 images you reviewed yourself, so a colleague reads them" in words(page.find("main"))
    assert image.status == 422
    assert "Leave it to a colleague" in words(image.find("main"))


def test_an_assistant_finds_no_form_to_draw_and_cannot_send_one(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get("/quality/grading")

    assert not page.all('form[action="/quality/grading"]')
    assert "A dentist draws one." in words(page.find(".empty"))
    assert assistant.post("/quality/grading", {"size": "5"}).status == 403


def test_the_front_desk_and_strangers_see_nothing_of_it(
    dentist: PageClient, front_desk: PageClient, client_of, practice: Practice
) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist))

    assert front_desk.get("/quality/grading").status == 403
    assert client_of("isko").get(address).status == 404
    assert client_of("isko").get(f"{address}/images/1").status == 404
    assert client_of("isko").post(f"{address}/images/1", {"grade": "A"}).status == 404


def test_an_image_that_the_sample_does_not_have_is_not_found(dentist: PageClient, practice: Practice) -> None:
    faulty_series(practice)
    address = sample_address(draw(dentist))

    assert dentist.get(f"{address}/images/4").status == 404
    assert dentist.get("/quality/grading/none").status == 404
