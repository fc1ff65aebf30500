"""Corrections on the pages: the form that asks why, the history, how an image was taken."""

from __future__ import annotations

from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words


def test_a_new_name_asks_why_and_then_stands_in_the_history(front_desk: PageClient, practice: Practice) -> None:
    address = f"/patients/{a_patient(practice).id}/edit"
    asked = front_desk.submit(front_desk.get(address), address, {"name": "Ada Stone"})
    kept = front_desk.submit(asked, address, {"reason": "married"})

    assert asked.error_at("reason").startswith("say why the name should be corrected")
    line = words(kept.find("tbody tr"))
    assert "name Ada Merriweather-Stone Ada Stone married Pell Orcutt" in line


def test_how_an_image_was_taken_is_corrected_with_a_reason(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    address = f"/exposures/{loaded(practice, series, slot='UR-molar').id}/details"
    changes = {"operator": practice.dentist.staff_id, "tube_kv": "65"}
    refused = assistant.submit(assistant.get(address), address, changes)
    assistant.submit(refused, address, {"reason": "wrong log-in"})

    page = assistant.get(f"/patients/{series.patient_id}/corrections")

    assert refused.error_at("reason") == "this is empty. Fill it in"
    assert refused.find("#f-tube_kv")["value"] == "65"
    assert "taken by Tomke Rill Dr Wilna Achterberg wrong log-in Tomke Rill" in words(page.find("tbody tr"))


def test_a_wrong_setting_is_told_at_its_field(assistant: PageClient, practice: Practice) -> None:
    address = f"/exposures/{loaded(practice, a_series(practice), slot='UR-molar').id}/details"

    page = assistant.submit(assistant.get(address), address, {"tube_kv": "lots", "reason": "x"})

    assert page.status == 422
    assert page.error_at("tube_kv") == '"lots" is no number. Write it like 65 or 0.25, or leave it empty'


def test_the_printed_record_says_what_was_corrected(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    address = f"/exposures/{loaded(practice, series, slot='UR-molar').id}/details"
    assistant.submit(
        assistant.get(address), address, {"operator": practice.dentist.staff_id, "reason": "wrong log-in"}
    )

    record = assistant.get(f"/series/{series.id}/record")

    assert "image 1, taken by: Tomke Rill, now Dr Wilna Achterberg" in words(record.find(".record"))
