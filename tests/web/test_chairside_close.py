"""Closing and the record."""

from __future__ import annotations

from app.work.close import sign_off_of
from app.work.start_series import SeriesRow
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.chairside_people import closed_series, faulty_series, full_series, review_all
from tests.web.client import PageClient, words


def is_closed(practice: Practice, series: SeriesRow) -> bool:
    """Whether the series has been signed off."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return sign_off_of(scope, series.id) is not None


def test_a_complete_series_closes_at_once_and_leaves_its_record(assistant: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)
    review_all(practice, ids)

    page = assistant.submit(assistant.get(f"/series/{series.id}/close"), f"/series/{series.id}/close")

    assert page.path == f"/series/{series.id}/record?note=series-closed"
    assert "Complete" in words(page.find(".record-verdict"))
    assert "Closed by Tomke Rill" in words(page.find(".record-foot"))


def test_an_incomplete_series_asks_for_a_reason_and_a_dentist(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    form = {"reason": "", "dentist": practice.dentist.staff_id}

    page = assistant.post(f"/series/{series.id}/close", form)
    assert page.status == 422
    assert page.error_at("reason") == "this is empty. Fill it in"

    page = assistant.post(f"/series/{series.id}/close", {"reason": "patient unwell", "dentist": ""})
    assert page.status == 422
    assert "choose the dentist" in page.error_at("dentist")
    assert words(page.find("textarea")) == "patient unwell"
    assert not is_closed(practice, series)


def test_an_incomplete_series_closes_with_both(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    form = {"reason": "patient unwell", "dentist": practice.dentist.staff_id}
    page = assistant.post(f"/series/{series.id}/close", form)

    foot = words(page.find(".record-foot"))
    assert "under the name of Dr Wilna Achterberg. patient unwell" in foot
    assert "apices 18, 17: apex cut off on Upper right molar" in words(page.find(".record-words"))


def test_the_page_says_what_is_missing_and_what_would_close_it(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}/close")

    assert "contact 32–33; crown 33; apices 18, 17, 33" in words(page.find("main"))
    assert "Lower left canine, Upper right molar" in words(page.find("main"))


def test_images_without_a_slot_keep_it_open(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1)

    form = {"reason": "x", "dentist": practice.dentist.staff_id}
    page = assistant.post(f"/series/{series.id}/close", form)

    assert page.status == 422
    assert "Images 1 have no slot" in page.errors()[0]
    assert not is_closed(practice, series)


def test_closing_twice_is_refused(assistant: PageClient, practice: Practice) -> None:
    series = closed_series(practice)

    assert assistant.get(f"/series/{series.id}/close").status == 409
    assert assistant.post(f"/series/{series.id}/close", {}).status == 409


def test_the_record_has_patient_mount_chart_and_cautions(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/series/{closed_series(practice).id}/record")

    assert "Ada Merriweather-Stone · chart H100 · born 6 May 1984" in words(page.find(".record-who"))
    assert len(page.all(".record .cell-film img")) == 18
    assert page.find(".record svg.mouth")
    assert "no diagnosis" in words(page.find(".record-words"))
    assert not page.all(".record a")


def test_the_record_of_an_open_series_says_so(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/series/{a_series(practice).id}/record")

    assert "Still open." in words(page.find(".record-foot"))


def test_a_bitewing_series_says_what_it_leaves_out(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/series/{a_series(practice, 'bitewings-4').id}/record")

    assert "targets, marked in the chart: not part of a bitewing examination" in words(page.find(".record-words"))


def test_the_front_desk_closes_nothing(front_desk: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)
    review_all(practice, ids)

    assert front_desk.post(f"/series/{series.id}/close", {}).status == 403
    assert front_desk.get(f"/series/{series.id}/record").status == 403
    assert not is_closed(practice, series)
