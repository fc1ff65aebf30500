"""The assignment: proposed, shown, changed by hand, kept, changed again."""

from __future__ import annotations

from app.storage.series import SeriesRow
from app.work.audit_series import exposures_of
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.chairside_people import closed_series, full_series
from tests.web.client import PageClient, words


def slot_of(practice: Practice, series: SeriesRow) -> dict[str, str | None]:
    """Slots by exposure id."""
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return {each.id: each.slot for each in exposures_of(scope, series.id)}


def test_a_proposal_is_shown_before_anything_is_kept(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, name="scan_UL-molar.png")

    page = assistant.get(f"/series/{series.id}/assign")

    assert page.find(f'.place[data-slot="UL-molar"] .piece[data-image="{exposure.id}"]')
    assert "by its file name" in words(page.find(".assign-list"))
    assert slot_of(practice, series) == {exposure.id: None}


def test_keeping_the_proposal_fills_the_slots(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    one, two = loaded(practice, series, 1), loaded(practice, series, 2, name="UR-molar.png")

    page = assistant.submit(assistant.get(f"/series/{series.id}/assign"), f"/series/{series.id}/assign")

    assert page.path == f"/series/{series.id}?note=assignment-kept"
    assert slot_of(practice, series) == {one.id: "BW-R-premolar", two.id: "UR-molar"}


def test_a_choice_by_hand_wins(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    one = loaded(practice, series, 1)

    page = assistant.get(f"/series/{series.id}/assign")
    assistant.submit(page, f"/series/{series.id}/assign", {f"slot:{one.id}": "LL-molar"})

    assert slot_of(practice, series) == {one.id: "LL-molar"}


def test_a_preview_keeps_nothing_and_points_out_the_orientation(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    one = loaded(practice, series, 1)

    page = assistant.post(f"/series/{series.id}/assign", {f"slot:{one.id}": "U-incisors", "preview": "yes"})

    assert "lies across, but the receptor stands upright" in words(page.find(".assign-warnings"))
    assert slot_of(practice, series) == {one.id: None}


def test_two_images_for_one_slot_are_refused_and_the_choice_stays(
    assistant: PageClient, practice: Practice
) -> None:
    series = a_series(practice)
    one, two = loaded(practice, series, 1), loaded(practice, series, 2)

    chosen = {f"slot:{one.id}": "UR-molar", f"slot:{two.id}": "UR-molar"}
    page = assistant.post(f"/series/{series.id}/assign", chosen)

    assert page.status == 422
    assert "Images 1 and 2 would both stand in Upper right molar" in page.errors()[0]
    assert [str(each["value"]) for each in page.all("option[selected]")] == ["UR-molar", "UR-molar"]
    assert slot_of(practice, series) == {one.id: None, two.id: None}


def test_what_was_kept_can_be_changed_later(assistant: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice, leave_out=["UL-molar"])

    page = assistant.get(f"/series/{series.id}/assign")
    assistant.submit(page, f"/series/{series.id}/assign", {f"slot:{ids['UR-molar']}": "UL-molar"})

    assert slot_of(practice, series)[ids["UR-molar"]] == "UL-molar"


def test_moving_onto_a_filled_slot_changes_places(assistant: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)

    page = assistant.post(f"/exposures/{ids['UR-molar']}/move", {"slot": "UL-molar"})

    assert page.path.endswith("note=image-moved")
    slots = slot_of(practice, series)
    assert (slots[ids["UR-molar"]], slots[ids["UL-molar"]]) == ("UL-molar", "UR-molar")


def test_an_unknown_slot_moves_nothing(assistant: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)
    before = slot_of(practice, series)

    page = assistant.post(f"/exposures/{ids['UR-molar']}/move", {"slot": "UR-molr"})

    assert page.status == 422
    assert slot_of(practice, series) == before


def test_a_file_is_set_aside_with_a_reason_listed_and_put_back(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, slot="UR-molar")

    page = assistant.post(f"/exposures/{exposure.id}/set-aside", {"reason": "a test shot of the holder"})
    assert "a test shot of the holder (Tomke Rill)" in words(page.find(".aside-list"))
    assert page.find('a[data-slot="UR-molar"]')

    back = assistant.post(f"/exposures/{exposure.id}/put-back")
    assert back.h1 == "Which image for which slot"
    assert slot_of(practice, series) == {exposure.id: None}


def test_setting_aside_needs_a_reason(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, slot="UR-molar")

    page = assistant.post(f"/exposures/{exposure.id}/set-aside", {"reason": "  "})

    assert page.status == 422
    assert slot_of(practice, series) == {exposure.id: "UR-molar"}


def test_the_slots_of_a_closed_series_stay(assistant: PageClient, practice: Practice) -> None:
    series = closed_series(practice)
    (exposure, slot), *_ = slot_of(practice, series).items()

    assert assistant.get(f"/series/{series.id}/assign").status == 409
    assert assistant.post(f"/exposures/{exposure}/move", {"slot": "U-occlusal"}).status == 409
    assert slot_of(practice, series)[exposure] == slot


def test_the_front_desk_assigns_nothing(front_desk: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1)

    for address in (
        f"/series/{series.id}/assign",
        f"/exposures/{exposure.id}/move",
        f"/exposures/{exposure.id}/set-aside",
    ):
        assert (
            front_desk.post(address, {f"slot:{exposure.id}": "UR-molar", "slot": "UR-molar", "reason": "x"}).status
            == 403
        )
    assert slot_of(practice, series) == {exposure.id: None}
