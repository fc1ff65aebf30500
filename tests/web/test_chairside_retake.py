"""Retakes: one tap orders, the image is linked, the old one stays greyed."""

from __future__ import annotations

from app.work.retakes import orders_of
from tests.making import loaded
from tests.people import Practice
from tests.web.chairside_people import closed_series, faulty_series
from tests.web.client import PageClient, words


def waiting(practice: Practice, series_id: str) -> list[tuple[str, str, str]]:
    """Slot, reason and dentist of the orders that wait."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return [(each.slot, each.reason, each.authorised_by) for each in orders_of(scope, series_id)]


def test_one_tap_orders_with_the_reason_and_the_dentist_preselected(
    assistant: PageClient, practice: Practice
) -> None:
    series, _ = faulty_series(practice)

    page = assistant.submit(assistant.get(f"/series/{series.id}"), f"/series/{series.id}/retakes")

    assert "retake-ordered" in page.path
    assert waiting(practice, series.id) == [("LL-canine", "blurred", practice.dentist.staff_id)]
    assert words(page.find(".cell-ordered")) == "retake"
    assert str(page.find("#f-slot option[selected]")["value"]) == "LL-canine"


def test_a_dentist_authorises_under_their_own_name(dentist: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = dentist.get(f"/series/{series.id}")

    assert "under Dr Wilna Achterberg" in words(page.find(".order summary"))


def test_the_second_order_for_a_slot_is_refused(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    form = {"slot": "UR-molar", "reason": "apex_cut_off", "authorised_by": practice.dentist.staff_id}
    assistant.post(f"/series/{series.id}/retakes", form)

    page = assistant.post(f"/series/{series.id}/retakes", form)

    assert page.status == 422
    assert "ordered already" in page.errors()[0]
    assert len(waiting(practice, series.id)) == 1


def test_an_assistant_cannot_authorise(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    form = {"slot": "UR-molar", "reason": "apex_cut_off", "authorised_by": practice.assistant.staff_id}

    page = assistant.post(f"/series/{series.id}/retakes", form)

    assert page.status == 422
    assert "Choose the dentist" in page.errors()[0]
    assert waiting(practice, series.id) == []


def test_the_new_image_is_linked_and_the_old_one_stays_behind_it(
    assistant: PageClient, practice: Practice
) -> None:
    series, ids = faulty_series(practice)
    assistant.submit(assistant.get(f"/series/{series.id}"), f"/series/{series.id}/retakes")
    again = loaded(practice, series, 500, slot="LL-canine", upright=True)

    page = assistant.get(f"/series/{series.id}?image={again.id}")

    assert again.retake_of == ids["LL-canine"]
    assert "Repeats Lower left canine (image" in words(page.find("#chart-answer"))
    assert str(page.find(".earlier")["id"]) == f"film-{ids['LL-canine']}"


def test_an_order_can_be_withdrawn_while_it_waits(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    page = assistant.submit(assistant.get(f"/series/{series.id}"), f"/series/{series.id}/retakes")
    action = str(page.find('form[action^="/retakes/"]')["action"])

    after = assistant.submit(page, action)

    assert waiting(practice, series.id) == []
    assert "The order is withdrawn." in after.text


def test_an_order_that_was_taken_cannot_be_withdrawn(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    page = assistant.submit(assistant.get(f"/series/{series.id}"), f"/series/{series.id}/retakes")
    action = str(page.find('form[action^="/retakes/"]')["action"])
    loaded(practice, series, 500, slot="LL-canine", upright=True)

    assert assistant.post(action).status == 422


def test_a_retake_that_waits_for_review_is_not_asked_for_again(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    assistant.submit(assistant.get(f"/series/{series.id}"), f"/series/{series.id}/retakes")
    loaded(practice, series, 500, slot="LL-canine", upright=True)

    page = assistant.get(f"/series/{series.id}")

    assert "Its image waits for review." in words(page.find(".plan-review"))


def test_a_closed_series_orders_nothing(assistant: PageClient, practice: Practice) -> None:
    series = closed_series(practice)
    form = {"slot": "UR-molar", "reason": "blurred", "authorised_by": practice.dentist.staff_id}

    assert assistant.post(f"/series/{series.id}/retakes", form).status == 409


def test_the_front_desk_orders_nothing(front_desk: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)
    form = {"slot": "UR-molar", "reason": "apex_cut_off", "authorised_by": practice.dentist.staff_id}

    assert front_desk.post(f"/series/{series.id}/retakes", form).status == 403
    assert waiting(practice, series.id) == []
