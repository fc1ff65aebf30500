"""The review's pages in Chromium: accessibility rules, no sideways scrolling, a filter worked by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import DESKTOP, TABLET, Running
from tests.browser.test_accessibility import violations
from tests.people import Practice
from tests.web.quality_people import PERIOD, something_to_review

OpenPage = Callable[..., Page]

TOO_WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

PAGES = (
    "/quality",
    "/quality/figures",
    "/quality/exposures",
    "/quality/incomplete",
    "/quality/comparison",
    "/quality/over-time",
    "/quality/receptors",
    "/quality/targets",
    "/quality/training",
)


@pytest.fixture(scope="module")
def reviewed(server: Running) -> Practice:
    """The shared practice with something to review."""
    something_to_review(server.practice)
    return server.practice


SIZES = (DESKTOP, TABLET, {"width": 320, "height": 640})
"""The last is WCAG 2.2, success criterion 1.4.10: there charts and tables scroll in their own frames."""


def test_no_page_of_the_review_breaks_a_rule_or_scrolls_sideways(open_page: OpenPage, reviewed: Practice) -> None:
    page = open_page("wilna", bypass_csp=True)

    found: list[str] = []
    for address in PAGES:
        page.set_viewport_size(DESKTOP)
        found.extend(violations(page, f"{address}?{PERIOD}"))
        for size in SIZES:
            page.set_viewport_size(size)
            if (wide := page.evaluate(TOO_WIDE)) > 0:
                found.append(f"{address}: {wide} pixels too wide at {size['width']}")

    assert "\n".join(found) == ""


def test_a_filter_is_chosen_by_hand_and_stands_in_the_address(open_page: OpenPage, reviewed: Practice) -> None:
    page = open_page("wilna")
    page.goto(f"/quality/figures?{PERIOD}")

    page.get_by_label("Broken down by").select_option(label="Operator")
    page.get_by_label("Taken by").select_option(label="Tomke Rill")
    page.get_by_role("button", name="Show").click()
    page.wait_for_url("**by=operator**")

    assert f"operator={reviewed.assistant.staff_id}" in page.url
    assert "from=2026-01&to=2026-03" in page.url
    assert page.get_by_role("row", name="Tomke Rill").count() == 1


def test_every_target_of_the_review_is_large_enough(open_page: OpenPage, reviewed: Practice) -> None:
    """At least 44 pixels high: links in tables and deeds, for gloved hands."""
    page = open_page("wilna")

    small = []
    for address in PAGES:
        page.goto(f"{address}?{PERIOD}")
        for target in page.locator("main :is(.table a, .button, .q-carry, .within a, select)").all():
            box = target.bounding_box()
            if box is not None and box["height"] < 44:
                small.append(f"{address}: {target.inner_text()} {box['height']:.0f}")

    assert small == []
