"""Every page against the accessibility rules of axe-core (WCAG 2.2 A and AA), at desktop size."""

from __future__ import annotations

import re
from collections.abc import Callable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from app.storage.series import SeriesRow
from app.work.assign import keep_assignment
from app.work.retakes import order_retake
from app.work.review import review_exposure
from tests.browser.conftest import Running
from tests.making import a_series, loaded
from tests.people import Practice, a_patient

OpenPage = Callable[..., Page]

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def violations(page: Page, address: str) -> list[str]:
    """What axe-core finds on the page, a line each."""
    page.goto(address)
    page.wait_for_load_state("networkidle")
    found = Axe().run(page, options=RULES).response["violations"]
    return [
        f"{address}: {each['id']} ({each['help']}): {each['nodes'][0]['html'][:160]} × {len(each['nodes'])}"
        for each in found
    ]


def half_done_series(practice: Practice) -> tuple[SeriesRow, str]:
    """A series with everything on its pages: a fault, an order, an image without a slot, one not reviewed."""
    series = a_series(practice, patient_id=a_patient(practice, "A-1").id)
    faulty = loaded(practice, series, 901, slot="UR-molar")
    good = loaded(practice, series, 902, slot="UL-molar")
    loaded(practice, series, 903, slot="LR-molar")
    loaded(practice, series, 904)
    with practice.store.writing(practice.assistant.practice_id) as scope:
        review_exposure(scope, practice.assistant, faulty.id, shortfalls=[{"code": "apex_cut_off"}])
        review_exposure(scope, practice.assistant, good.id)
        order_retake(
            scope, practice.assistant, series.id, slot="UR-molar", authorised_by=practice.dentist.staff_id
        )
        keep_assignment(scope, practice.assistant, series.id, {})
    return series, faulty.id


def test_no_page_of_the_chair_breaks_a_rule(open_page: OpenPage, server: Running) -> None:
    series, image = half_done_series(server.practice)
    page = open_page(bypass_csp=True)
    addresses = [
        "/",
        "/patients",
        "/patients?q=nobody",
        "/patients/new",
        f"/patients/{series.patient_id}",
        f"/patients/{series.patient_id}/edit",
        f"/patients/{series.patient_id}/chart",
        "/series/new",
        f"/series/new?patient={series.patient_id}",
        f"/series/new/{series.patient_id}",
        f"/series/{series.id}",
        f"/series/{series.id}?target=apex:18:MB",
        f"/series/{series.id}?image={image}",
        f"/series/{series.id}/assign",
        f"/exposures/{image}/review",
        f"/series/{series.id}/close",
        f"/series/{series.id}/record",
        "/templates",
        "/templates/adult-18",
        "/me",
        "/cautions",
        "/patterns",
        "/api",
        "/no-such-page",
    ]

    found = [line for address in addresses for line in violations(page, address)]

    assert "\n".join(found) == ""


def test_no_page_of_the_dentist_breaks_a_rule(open_page: OpenPage) -> None:
    page = open_page("wilna", bypass_csp=True)
    page.goto("/practice")
    sections = {link.get_attribute("href") or "" for link in page.locator("a[href^='/practice']").all()}
    page.goto("/templates/adult-18")
    page.get_by_role("button", name=re.compile("[Cc]opy")).first.click()
    page.wait_for_url(re.compile("/templates/.+"))
    key = page.url.split("/templates/")[1].split("/")[0].split("?")[0]

    found = [
        line
        for address in ["/", *sorted(sections), f"/templates/{key}", f"/templates/{key}/edit"]
        for line in violations(page, address)
    ]

    assert "\n".join(found) == ""


def test_no_page_before_the_log_in_breaks_a_rule(open_page: OpenPage) -> None:
    page = open_page(None, bypass_csp=True)

    assert violations(page, "/login") == []
