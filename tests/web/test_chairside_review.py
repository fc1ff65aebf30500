"""The review: all shown, or what is not and why; and how the image is looked at."""

from __future__ import annotations

from typing import Any

import pytest

from app.storage.series import ExposureRow
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.chairside_people import closed_series, full_series, review_all
from tests.web.client import PageClient, words


def row_of(practice: Practice, exposure_id: str) -> ExposureRow:
    """The image as it is kept."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return scope.get(ExposureRow, exposure_id, "image")


def test_the_review_lists_what_the_slot_promises(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    page = assistant.get(f"/exposures/{ids['UR-molar']}/review")

    promised = {str(each["name"]) for each in page.all(".promise select")}
    assert {"code:crown:18", "code:apex:17:P", "code:contact:18-17", "code:distal:18"} <= promised
    assert len(page.all('input[name="fault"]')) == 15


def test_all_shown_leads_to_the_next_image_that_waits(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    page = assistant.post(f"/exposures/{ids['BW-R-premolar']}/review", {"verdict": "all"})

    assert page.path == f"/exposures/{ids['BW-R-molar']}/review?note=review-kept"
    assert row_of(practice, ids["BW-R-premolar"]).reviewed
    assert words(page.find(".strip-counts")) != ""


def test_the_last_review_leads_to_the_mount(assistant: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)
    review_all(practice, {slot: each for slot, each in ids.items() if slot != "UR-molar"})

    page = assistant.post(f"/exposures/{ids['UR-molar']}/review", {"verdict": "all"})

    assert page.path == f"/series/{series.id}?note=all-reviewed"
    assert words(page.find(".strip-word")) == "Complete"


def test_what_is_left_out_comes_round_again(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)
    review_all(practice, {slot: each for slot, each in ids.items() if slot not in ("BW-R-premolar", "LR-molar")})

    page = assistant.post(f"/exposures/{ids['LR-molar']}/review", {"verdict": "all"})

    assert page.path.startswith(f"/exposures/{ids['BW-R-premolar']}/review")


def test_a_target_named_as_not_shown_is_kept_with_its_code(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)
    target = "apex:17:P"

    form: dict[str, Any] = {"verdict": "faults", f"code:{target}": "apex_cut_off", "code:crown:18": ""}
    assistant.post(f"/exposures/{ids['UR-molar']}/review", form)

    assert row_of(practice, ids["UR-molar"]).shortfalls == [{"code": "apex_cut_off", "targets": [target]}]


def test_a_fault_without_targets_takes_all_it_takes(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    assistant.post(f"/exposures/{ids['UR-molar']}/review", {"verdict": "faults", "fault": "cone_cut"})

    assert row_of(practice, ids["UR-molar"]).shortfalls == [{"code": "cone_cut"}]


def test_two_faults_stand_side_by_side(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    form = {"verdict": "faults", "code:contact:17-16": "overlap", "code:apex:18:P": "apex_cut_off"}
    assistant.post(f"/exposures/{ids['UR-molar']}/review", form)

    assert row_of(practice, ids["UR-molar"]).shortfalls == [
        {"code": "overlap", "targets": ["contact:17-16"]},
        {"code": "apex_cut_off", "targets": ["apex:18:P"]},
    ]


def test_what_it_shows_besides_closes_a_gap_elsewhere(assistant: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)
    lost = [{"code": "cone_cut", "targets": ["crown:18"]}]
    review_all(practice, {slot: each for slot, each in ids.items() if slot != "UR-premolar"}, {"UR-molar": lost})

    page = assistant.post(f"/exposures/{ids['UR-premolar']}/review", {"verdict": "all", "also": "crown:18"})

    assert page.path.startswith(f"/series/{series.id}")
    assert words(page.find(".strip-word")) == "Complete"


def test_the_form_comes_back_as_it_was_kept(assistant: PageClient, practice: Practice) -> None:
    """Sending an untouched form of a reviewed image changes nothing."""
    _, ids = full_series(practice)
    faults = [
        {"code": "overlap", "targets": ["contact:17-16"]},
        {"code": "apex_cut_off", "targets": ["apex:18:P"]},
    ]
    review_all(practice, {"UR-molar": ids["UR-molar"]}, {"UR-molar": faults})

    address = f"/exposures/{ids['UR-molar']}/review"
    assistant.submit(assistant.get(address), address)

    assert row_of(practice, ids["UR-molar"]).shortfalls == faults


def test_nothing_marked_is_not_taken_for_a_fault(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    page = assistant.post(f"/exposures/{ids['UR-molar']}/review", {"verdict": "faults"})

    assert page.status == 422
    assert "Nothing is marked as not shown" in page.errors()[0]
    assert not row_of(practice, ids["UR-molar"]).reviewed


@pytest.mark.parametrize(
    "form",
    [
        {"fault": "smudge"},
        {"code:crown:11": "cone_cut"},
        {"code:crown:99": "cone_cut"},
        {"code:rubbish": "cone_cut"},
        {"fault": "cone_cut", "also": "crown:99"},
    ],
)
def test_a_fault_or_target_that_cannot_be_is_refused(
    assistant: PageClient, practice: Practice, form: dict[str, str]
) -> None:
    _, ids = full_series(practice)

    page = assistant.post(f"/exposures/{ids['UR-molar']}/review", {"verdict": "faults", **form})

    assert page.status == 422
    assert len(page.errors()) == 1
    assert not row_of(practice, ids["UR-molar"]).reviewed


def test_a_review_can_be_taken_back(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)
    review_all(practice, ids)

    page = assistant.post(f"/exposures/{ids['UR-molar']}/reopen")

    assert words(page.find(".review-state")) == "Not reviewed."
    assert words(page.find(".strip-word")) == "Review to finish"


def test_an_image_without_a_slot_cannot_be_reviewed(assistant: PageClient, practice: Practice) -> None:
    exposure = loaded(practice, a_series(practice), 1)

    page = assistant.post(f"/exposures/{exposure.id}/review", {"verdict": "all"})

    assert page.status == 422
    assert "has no slot yet" in page.errors()[0]


def test_a_view_is_kept_and_drawn_without_scripts(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)
    view = {"window_low": "20", "window_high": "70", "quarter_turns": "1", "mirrored": "yes", "inverted": ""}

    page = assistant.post(f"/exposures/{ids['UR-molar']}/view", view)

    part = page.find("feFuncR") if page.all("feFuncR") else page.find("fefuncr")
    assert float(str(part["slope"])) == pytest.approx(2.0)
    assert float(str(part["intercept"])) == pytest.approx(-0.4)
    assert "rotate(90)" in str(page.find(".turned")["transform"])


def test_the_script_keeps_a_view_without_a_page(assistant: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    answer = assistant.post(
        f"/exposures/{ids['UR-molar']}/view", {"inverted": "yes"}, headers={"Accept": "application/json"}
    )

    assert answer.json() == {"kept": True}
    assert row_of(practice, ids["UR-molar"]).view["inverted"] is True


@pytest.mark.parametrize(
    "view",
    [
        {"window_low": "90", "window_high": "10"},
        {"window_low": "dark"},
        {"quarter_turns": "7"},
        {"window_high": "nan"},
    ],
)
def test_a_view_that_cannot_be_is_refused(assistant: PageClient, practice: Practice, view: dict[str, str]) -> None:
    _, ids = full_series(practice)

    page = assistant.post(f"/exposures/{ids['UR-molar']}/view", view)

    assert page.status == 422
    assert row_of(practice, ids["UR-molar"]).view == {}


def test_an_image_of_a_closed_series_is_to_be_looked_at_only(assistant: PageClient, practice: Practice) -> None:
    series = closed_series(practice)
    page = assistant.get(f"/series/{series.id}")
    link = str(page.find(".cell-film")["data-image"])

    review = assistant.get(f"/exposures/{link}/review")
    assert not review.all(".verdict-form")
    assert assistant.post(f"/exposures/{link}/review", {"verdict": "all"}).status == 409


def test_the_front_desk_reviews_nothing(front_desk: PageClient, practice: Practice) -> None:
    _, ids = full_series(practice)

    for tail in ("review", "reopen", "view"):
        assert front_desk.post(f"/exposures/{ids['UR-molar']}/{tail}", {"verdict": "all"}).status == 403
    assert not row_of(practice, ids["UR-molar"]).reviewed
