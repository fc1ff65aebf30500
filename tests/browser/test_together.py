"""Two people at two screens: one works, the other sees it; both want the same, and choose."""

from __future__ import annotations

import re
from collections.abc import Callable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from app.storage.people import Patient
from app.storage.series import ExposureRow
from app.work.patients import correct_patient
from app.work.review import review_exposure
from tests.browser.conftest import TABLET, Running
from tests.browser.test_accessibility import RULES
from tests.making import a_series, loaded
from tests.people import TODAY, Practice, a_patient

OpenPage = Callable[..., Page]
SOON_MS = 15_000


def ready(page: Page) -> None:
    page.wait_for_selector("html[data-ready]")


def two_images(practice: Practice, chart_number: str) -> tuple[str, list[str]]:
    series = a_series(practice, patient_id=a_patient(practice, chart_number).id)
    first = int.from_bytes(chart_number.encode()) % 10_000 * 10
    ids = [loaded(practice, series, first + n, slot=slot).id for n, slot in enumerate(("UR-molar", "UL-molar"))]
    return series.id, ids


def mark_fault(page: Page, target_kind: str, fault: str) -> None:
    """Tap a promise of a kind, then the fault that took it."""
    page.locator(f".promise[data-kind={target_kind}] .promise-button").first.click()
    page.locator(f"input[name=fault][value={fault}]").check(force=True)


def test_a_review_shows_on_the_other_screen_and_keeps_focus_and_scroll(
    open_page: OpenPage, server: Running
) -> None:
    series, (image, _) = two_images(server.practice, "T-1")
    watching, working = open_page("wilna", TABLET), open_page("tomke")
    watching.goto(f"/series/{series}")
    ready(watching)
    watching.locator(f"#film-{image}").focus()
    working.goto(f"/exposures/{image}/review")
    ready(working)
    working.locator(".review-all").click()
    working.wait_for_url(re.compile("note=|/review$"))

    expect(watching.locator("#verdict .strip-counts")).not_to_contain_text("0 covered", timeout=SOON_MS)
    expect(watching.locator(f"#film-{image}")).to_be_focused()
    expect(watching.locator("#heard")).to_contain_text("Changed by Tomke Rill")
    expect(watching.locator(".live-notice")).to_have_count(0)


def test_who_is_typing_gets_a_notice_and_keeps_the_words(open_page: OpenPage, server: Running) -> None:
    series, (image, _) = two_images(server.practice, "T-2")
    typing = open_page("wilna", bypass_csp=True)
    typing.goto(f"/series/{series}?image={image}")
    ready(typing)
    typing.locator("summary", has_text="Wrong slot").click()
    typing.locator("#f-aside-reason").fill("belongs to")
    with server.practice.store.writing(server.practice.assistant.practice_id) as scope:
        review_exposure(scope, server.practice.assistant, image)

    expect(typing.locator(".live-notice")).to_contain_text("Changed by Tomke Rill", timeout=SOON_MS)
    expect(typing.locator("#f-aside-reason")).to_have_value("belongs to")
    expect(typing.locator("#f-aside-reason")).to_be_focused()
    assert Axe().run(open_again(typing), options=RULES).response["violations"] == []
    typing.get_by_role("button", name="Show the new state").click()
    expect(typing.locator("#verdict .strip-counts")).not_to_contain_text("0 covered")
    expect(typing.locator(".live-notice")).to_have_count(0)


def open_again(page: Page) -> Page:
    """The page as axe-core may look at it: the policy of our pages refuses its script otherwise."""
    page.evaluate("document.activeElement.blur()")
    return page


def test_a_patient_corrected_at_the_desk_is_right_beside_the_chair(open_page: OpenPage, server: Running) -> None:
    practice = server.practice
    patient = a_patient(practice, "T-3")
    page = open_page("tomke", TABLET)
    page.goto(f"/patients/{patient.id}")
    ready(page)
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        correct_patient(
            scope,
            practice.front_desk,
            patient.id,
            chart_number="T-3",
            name=patient.name,
            birth_date="1984-05-06",
            phone="555 0199",
            today=TODAY,
        )

    expect(page.locator("dl.facts")).to_contain_text("555 0199", timeout=SOON_MS)


def test_two_reviews_of_one_image_meet_and_save_both_keeps_both(open_page: OpenPage, server: Running) -> None:
    """Both mark a fault, on different targets; the second is asked in the page itself, and saves both."""
    practice = server.practice
    _, (image, _) = two_images(practice, "T-4")
    mine, theirs = open_page("tomke"), open_page("wilna")
    for page in (mine, theirs):
        page.goto(f"/exposures/{image}/review")
        ready(page)
    mark_fault(theirs, "crown", "blurred")
    theirs.locator(".review-some").click()
    theirs.wait_for_url(re.compile("review-kept|/review$|series"))
    mark_fault(mine, "apex", "apex_cut_off")
    mine.locator(".review-some").click()

    expect(mine.locator("h1")).to_have_text("Changed meanwhile")
    expect(mine.locator("h1")).to_be_focused()
    expect(mine.locator(".choice-table")).to_contain_text("changed by Dr Wilna Achterberg")
    mine.get_by_role("button", name="Save both").click()
    expect(mine.locator("h1")).not_to_have_text("Changed meanwhile")
    with practice.store.reading(practice.assistant.practice_id) as scope:
        row = scope.get(ExposureRow, image, "image")
    assert [(each["code"], len(each.get("targets", ()))) for each in row.shortfalls] == [
        ("apex_cut_off", 1),
        ("blurred", 1),
    ]


def test_who_reviews_the_same_image_is_named_until_they_go_on(open_page: OpenPage, server: Running) -> None:
    _, (image, other) = two_images(server.practice, "T-6")
    mine, theirs = open_page("tomke"), open_page("wilna", TABLET)
    for page in (mine, theirs):
        page.goto(f"/exposures/{image}/review")
        ready(page)

    expect(mine.locator(".live-people")).to_have_text(
        "Dr Wilna Achterberg is looking at this image too.", timeout=SOON_MS
    )
    theirs.locator(f'.review-films a[href="/exposures/{other}/review"]').click()
    expect(mine.locator(".live-people")).to_be_hidden(timeout=SOON_MS)


def test_the_choice_breaks_no_rule_and_works_without_script(open_page: OpenPage, server: Running) -> None:
    practice = server.practice
    patient = a_patient(practice, "T-5")
    plain = open_page("tomke", TABLET, bypass_csp=True)
    other = open_page("pell", java_script_enabled=False)
    for page in (plain, other):
        page.goto(f"/patients/{patient.id}/edit")
    plain.get_by_label("Phone").fill("555 0101")
    plain.get_by_role("button", name="Keep the correction").click()
    other.get_by_label("Email").fill("ada@example.org")
    other.get_by_role("button", name="Keep the correction").click()
    expect(other.locator("h1")).to_have_text("Changed meanwhile")
    other.get_by_role("button", name="Save both").click()
    expect(other.locator("dl.facts")).to_contain_text("555 0101")
    expect(other.locator("dl.facts")).to_contain_text("ada@example.org")

    plain.goto(f"/patients/{patient.id}/edit")
    other.goto(f"/patients/{patient.id}/edit")
    other.get_by_label("Name", exact=True).fill("Ada M. Stone")
    other.locator("#f-reason").fill("married")
    other.get_by_role("button", name="Keep the correction").click()
    plain.get_by_label("Name", exact=True).fill("Ada Merri Stone")
    plain.get_by_role("button", name="Keep the correction").click()
    expect(plain.locator("h1")).to_have_text("Changed meanwhile")
    found = Axe().run(plain, options=RULES).response["violations"]
    with practice.store.reading(practice.assistant.practice_id) as scope:
        kept = scope.get(Patient, patient.id, "patient").name

    assert [f"{each['id']}: {each['nodes'][0]['html'][:120]}" for each in found] == []
    assert kept == "Ada M. Stone"
