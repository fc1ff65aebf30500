"""The chairside page: verdict, next step, mount, chart, and the answer to a touch."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import event

from app.core.dentition import Dentition, asked_targets
from tests.making import a_series, loaded
from tests.people import Practice, a_patient
from tests.web.chairside_people import closed_series, faulty_series, full_series, review_all
from tests.web.client import PageClient, words


def test_a_new_series_says_what_to_do_first(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/series/{a_series(practice).id}")

    assert page.h1 == "Ada Merriweather-Stone"
    assert words(page.find(".strip-word")) == "Not complete"
    assert "Load the images" in words(page.find(".strip-next"))
    assert len(page.all("a.cell-empty")) == 18


def test_every_target_has_one_mark_with_its_state_in_words(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}")

    marks = page.all("svg.mouth .mark")
    assert sorted(str(mark["data-target"]) for mark in marks) == sorted(asked_targets(Dentition()))
    for mark in marks:
        state = next(word for word in ("covered", "gap") if word in mark["class"])
        assert f": {state}" in str(mark["aria-label"])


def test_marks_not_alike_have_shapes_not_alike(assistant: PageClient, practice: Practice) -> None:
    """A mark not reviewed is hatched, and the others are not."""
    series, ids = full_series(practice)
    review_all(practice, {slot: each for slot, each in ids.items() if slot != "LR-molar"})

    page = assistant.get(f"/series/{series.id}")

    hatched = {str(each.find_parent("a")["data-target"]) for each in page.all("a.mark .shape[fill]")}
    waiting = {str(each["data-target"]) for each in page.all("a.mark.not_reviewed")}
    assert hatched == waiting != set()


def test_the_legend_counts_what_the_chart_shows(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}")

    for state in ("covered", "gap"):
        count = words(page.find(f".legend .{state} b"))
        assert int(count) == len(page.all(f"svg.mouth .mark.{state}"))


def test_a_touched_mark_tells_which_images_show_it(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}?target=contact:17-16")

    answer = words(page.find("#chart-answer"))
    assert "Contact 17–16 (upper right)" in answer
    assert "Right molar bitewing" in answer
    assert page.all(".cell-shows")


def test_a_touched_gap_tells_which_image_lost_it_and_why(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}?target=apex:17:MB")

    assert "Upper right molar: apex cut off" in words(page.find("#chart-answer"))
    assert len(page.all(".cell-lost")) == 1


def test_a_touched_image_lights_up_what_it_shows(assistant: PageClient, practice: Practice) -> None:
    series, ids = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}?image={ids['U-incisors']}")

    lit = {str(mark["data-target"]) for mark in page.all("a.mark.lit")}
    shown = {
        str(mark["data-target"]) for mark in page.all("a.mark") if ids["U-incisors"] in str(mark["data-shown"])
    }
    assert lit == shown != set()


def test_what_is_touched_but_not_there_is_passed_over(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    page = assistant.get(f"/series/{series.id}?target=<b>&image=nobody&slot=nowhere")

    assert page.status == 200
    assert words(page.find("#answer-heading")) == "Touch a mark or an image"


def test_the_gaps_are_also_a_list_with_their_reasons(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}")

    lines = [words(each) for each in page.all(".gap-list li")]
    assert "apices of 18, all roots apex cut off on Upper right molar" in lines
    assert "crown of 33 blurred on Lower left canine" in lines


def test_the_plan_names_the_fewest_retakes_and_what_needs_none(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    page = assistant.get(f"/series/{series.id}")

    assert [words(each) for each in page.all(".plan-list h3")] == ["Lower left canine", "Upper right molar"]
    assert "2 exposures to take" in words(page.find(".plan-sum"))
    assert "would take 3" in words(page.find(".plan-sum"))
    (spared,) = page.all(".spared li")
    assert words(spared).startswith("Upper left premolar : overlapped contacts, but Left premolar bitewing")


def test_the_mount_shows_the_patients_right_first(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/series/{a_series(practice).id}")

    upper = [str(each["data-slot"]) for each in page.all(".mount-upper [data-slot]")]
    assert upper == [
        "UR-molar",
        "UR-premolar",
        "UR-canine",
        "U-incisors",
        "UL-canine",
        "UL-premolar",
        "UL-molar",
    ]
    bite = [str(each["data-slot"]) for each in page.all(".mount-bite [data-slot]")]
    assert bite == ["BW-R-molar", "BW-R-premolar", "BW-L-premolar", "BW-L-molar"]


def test_images_without_a_slot_come_first(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, 1)

    page = assistant.get(f"/series/{series.id}")

    assert "Put 1 image into its slot." in words(page.find(".strip-next"))
    assert page.find(".tray img")


def test_the_fragment_is_the_same_without_what_stands_around(assistant: PageClient, practice: Practice) -> None:
    series, _ = faulty_series(practice)

    piece = assistant.get(f"/series/{series.id}/fragment?target=crown:33")

    assert not piece.text.lstrip().startswith("<!doctype")
    assert "Lower left canine: blurred" in words(piece.find("#chart-answer"))


def test_names_with_html_in_them_are_shown_as_they_are(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    exposure = loaded(practice, series, 1, slot="UR-molar", name='<img src=x onerror="1">.png')

    page = assistant.get(f"/series/{series.id}?image={exposure.id}")

    assert '<img src=x onerror="1">.png' in words(page.find("#chart-answer"))


def test_a_closed_series_is_to_be_read_only(assistant: PageClient, practice: Practice) -> None:
    page = assistant.get(f"/series/{closed_series(practice).id}")

    assert "closed" in words(page.find(".strip-who"))
    assert page.all("#load, .order") == []


def test_the_front_desk_sees_no_images(front_desk: PageClient, practice: Practice) -> None:
    series, ids = full_series(practice)

    for address in (
        f"/series/{series.id}",
        f"/series/{series.id}/fragment",
        f"/exposures/{ids['UR-molar']}/review",
    ):
        assert front_desk.get(address).status == 403


def test_another_practice_finds_nothing(client_of: Callable[[str], PageClient], practice: Practice) -> None:
    series, ids = full_series(practice)
    stranger = client_of("isko")

    for address in (f"/series/{series.id}", f"/series/{series.id}/record", f"/exposures/{ids['UR-molar']}/review"):
        assert stranger.get(address).status == 404


def test_nobody_is_led_to_the_log_in(anybody: PageClient, practice: Practice) -> None:
    page = anybody.get(f"/series/{a_series(practice).id}")

    assert page.path.startswith("/login")


def test_the_page_asks_the_database_no_oftener_for_more_images(assistant: PageClient, practice: Practice) -> None:
    """The number of statements does not grow with the images."""
    few = a_series(practice)
    loaded(practice, few, 200, slot="UR-molar")
    many = a_series(practice, patient_id=a_patient(practice, "H300").id)
    for number, slot in enumerate(("UR-molar", "UL-molar", "LR-molar", "LL-molar", "UR-premolar"), start=300):
        loaded(practice, many, number, slot=slot)
    statements: list[str] = []
    engine = assistant.application.state.store.engine
    event.listen(
        engine, "before_cursor_execute", lambda _c, _cursor, statement, *_more: statements.append(statement)
    )

    assistant.get(f"/series/{few.id}")
    for_few = len(statements)
    assistant.get(f"/series/{many.id}")
    for_many = len(statements) - for_few

    assert for_few == for_many > 0
