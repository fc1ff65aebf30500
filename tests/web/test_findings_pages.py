"""What the program looks for, and a receptor's thresholds: pages for those whom they concern."""

from __future__ import annotations

from app.imaging.finding import FindingCode
from app.work.findings import decide_finding
from app.work.practice import add_receptor
from app.work.receptor_thresholds import thresholds_for
from tests.making import a_finding, a_series, loaded
from tests.people import Practice
from tests.web.client import PageClient


def plate(practice: Practice) -> str:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return add_receptor(scope, practice.dentist, name="Plate 7", kind="phosphor_plate", size="2").id


def test_every_kind_of_finding_is_described(assistant: PageClient) -> None:
    page = assistant.get("/findings")

    for code in FindingCode:
        assert code.value.replace("_", " ").capitalize() in page.text
    assert "Nothing has been found yet." in page.text


def test_the_agreement_stands_there_with_its_interval(practice: Practice, assistant: PageClient) -> None:
    exposure = loaded(practice, a_series(practice), slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.add(a_finding(exposure.id, number=50))
        decide_finding(scope, practice.assistant, row.id, "accepted")

    assert "100% (21% to 100%)" in assistant.get("/findings").text


def test_a_dentist_sets_a_threshold_of_a_receptor_with_its_reason(practice: Practice, dentist: PageClient) -> None:
    receptor = plate(practice)
    page = dentist.get(f"/practice/receptors/{receptor}")
    said = {"name": "blurred.warning", "value": "4,5", "reason": "softer plate"}
    page = dentist.submit(page, f"/practice/receptors/{receptor}/thresholds", said)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        used = thresholds_for(scope, receptor)

    assert used is not None
    assert used["blurred.warning"] == 4.5
    assert "softer plate" in page.text
    assert "4.5, set by a dentist" in page.text


def test_a_threshold_without_its_reason_is_asked_for_and_nothing_kept(
    practice: Practice, dentist: PageClient
) -> None:
    receptor = plate(practice)
    page = dentist.get(f"/practice/receptors/{receptor}")
    said = {"name": "blurred.warning", "value": "many", "reason": "x"}
    page = dentist.submit(page, f"/practice/receptors/{receptor}/thresholds", said)
    with practice.store.reading(practice.dentist.practice_id) as scope:
        used = thresholds_for(scope, receptor)

    assert page.status == 422
    assert '"many" is no threshold' in page.error_at("value")
    assert used is None


def test_a_receptor_with_few_images_says_how_many_are_needed(practice: Practice, dentist: PageClient) -> None:
    assert "30 images are needed" in dentist.get(f"/practice/receptors/{plate(practice)}").text


def test_an_assistant_sets_no_thresholds(practice: Practice, assistant: PageClient) -> None:
    assert assistant.get(f"/practice/receptors/{plate(practice)}").status == 403
