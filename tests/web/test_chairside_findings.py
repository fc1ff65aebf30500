"""Findings on the pages: beside the image, drawn on it, decided by a form; none for the front desk."""

from __future__ import annotations

from app.storage.findings import FindingRow
from app.storage.series import ExposureRow
from app.work.findings import decide_finding, findings_of
from tests.making import a_finding, a_series, loaded
from tests.people import Practice
from tests.web.client import PageClient


def found(practice: Practice, *codes: str) -> tuple[ExposureRow, list[FindingRow]]:
    """An image in its slot with cone cuts and the like in the place of what was found in the noise of the file."""
    series = a_series(practice)
    exposure = loaded(practice, series, slot="UR-molar")
    with practice.store.writing(practice.dentist.practice_id) as scope:
        for each in findings_of(scope, [exposure.id]).get(exposure.id, []):
            scope.session.delete(each)
        scope.session.flush()
        return exposure, [
            scope.add(a_finding(exposure.id, number=number, code=code))
            for number, code in enumerate(codes or ("cone_cut",), start=1)
        ]


def kept(practice: Practice, finding: FindingRow) -> FindingRow:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return scope.get(FindingRow, finding.id, "finding")


def test_the_review_lists_what_was_found_how_sure_and_what_it_would_take(
    practice: Practice, assistant: PageClient
) -> None:
    exposure, _ = found(practice)
    page = assistant.get(f"/exposures/{exposure.id}/review")
    words = " ".join(page.find(".findings").get_text(" ").split())

    assert "Cone cut" in words
    assert "90% sure" in words
    assert "would take away:" in words
    assert "crown 18" in words
    assert "16" not in words.split("would take away:")[1].split(".")[0]


def test_its_outline_is_drawn_inside_the_picture_that_turns(practice: Practice, assistant: PageClient) -> None:
    exposure, (finding,) = found(practice)
    page = assistant.get(f"/exposures/{exposure.id}/review")
    (line,) = page.soup.select(f"svg.picture g.turned g[data-finding='{finding.id}'] polygon.found-line")

    assert line["points"] == "0,0 27,0 27,60 0,60"


def test_accepting_without_javascript_fills_the_review_form(practice: Practice, assistant: PageClient) -> None:
    exposure, (finding,) = found(practice)
    page = assistant.get(f"/exposures/{exposure.id}/review")
    page = assistant.submit(page, f"/findings/{finding.id}", {"decision": "accepted"})
    chosen = {
        str(each["name"]): str(each.select_one("option[selected]")["value"])  # type: ignore[index]
        for each in page.soup.select("select[name^='code:']")
        if each.select_one("option[selected]") and each.select_one("option[selected]")["value"]  # type: ignore[index]
    }

    assert kept(practice, finding).decision == "accepted"
    assert chosen.get("code:crown:18") == "cone_cut"
    assert "code:crown:16" not in chosen


def test_changing_needs_the_fault_and_keeps_it(practice: Practice, assistant: PageClient) -> None:
    exposure, (finding,) = found(practice)
    page = assistant.get(f"/exposures/{exposure.id}/review")
    assistant.submit(page, f"/findings/{finding.id}", {"decision": "changed", "code": "wrong_region"})

    assert kept(practice, finding).chosen == "wrong_region"


def test_dismissing_is_kept_and_whose_it_was_is_said(practice: Practice, assistant: PageClient) -> None:
    exposure, (finding,) = found(practice)
    page = assistant.get(f"/exposures/{exposure.id}/review")
    page = assistant.submit(page, f"/findings/{finding.id}", {"decision": "dismissed"})

    assert kept(practice, finding).decision == "dismissed"
    assert "dismissed by Tomke Rill" in page.text


def test_a_program_gets_the_shortfall_and_its_targets(practice: Practice, assistant: PageClient) -> None:
    _, (finding,) = found(practice)
    address, said = f"/findings/{finding.id}", {"decision": "accepted"}
    answer = assistant.post(address, said, headers={"Accept": "application/json"}).json()

    assert answer["decision"] == "accepted"
    assert answer["code"] == "cone_cut"
    assert "crown:18" in answer["targets"]


def test_the_board_says_which_images_have_findings_until_they_are_decided(
    practice: Practice, assistant: PageClient
) -> None:
    exposure, (finding,) = found(practice)
    before = assistant.get(f"/series/{exposure.series_id}").text
    with practice.store.writing(practice.dentist.practice_id) as scope:
        decide_finding(scope, practice.assistant, finding.id, "dismissed")

    assert "The program sees something on 1 image" in before
    assert "The program sees something" not in assistant.get(f"/series/{exposure.series_id}").text


def test_the_front_desk_sees_no_finding_and_decides_none(practice: Practice, front_desk: PageClient) -> None:
    exposure, (finding,) = found(practice)

    assert front_desk.get(f"/exposures/{exposure.id}/review").status == 403
    assert front_desk.get("/findings").status == 403
    assert front_desk.post(f"/findings/{finding.id}", {"decision": "accepted"}).status == 403
    assert kept(practice, finding).decision == "open"


def test_the_receptor_used_last_is_proposed_and_the_tube_is_recorded(
    practice: Practice, assistant: PageClient
) -> None:
    from app.work.practice import add_receptor
    from tests.making import image_file

    with practice.store.writing(practice.dentist.practice_id) as scope:
        receptor = add_receptor(scope, practice.dentist, name="Plate 7", kind="phosphor_plate", size="2").id
    series = a_series(practice)
    page = assistant.get(f"/series/{series.id}")
    said = {"receptor": receptor, "tube_kv": "65", "tube_ma": "7", "exposure_seconds": "0,12"}
    assistant.submit(page, f"/series/{series.id}/images", said, files=[("files", ("one.png", image_file(1)))])
    with practice.store.reading(practice.dentist.practice_id) as scope:
        (row,) = scope.all(scope.select(ExposureRow))
    again = assistant.get(f"/series/{series.id}").soup.select_one("select[name=receptor] option[selected]")

    assert (row.receptor_id, row.tube_kv, row.tube_ma, row.exposure_seconds) == (receptor, 65, 7, 0.12)
    assert again is not None
    assert again["value"] == receptor
