"""In a real browser: the chairside machine changes hands by touch, and a review that is not kept is told first."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import TABLET
from tests.browser.serving import serving
from tests.browser.test_accessibility import RULES
from tests.making import a_series, loaded
from tests.people import PASSWORD, Practice

PIN, OTHER_PIN = "402817", "739150"


@pytest.fixture
def address(practice: Practice, tmp_path: Path) -> Iterator[str]:
    with serving(tmp_path / "data") as served:
        yield served


@pytest.fixture
def touched(chromium: Browser, address: str) -> Iterator[Page]:
    """A tablet that is touched; its scripts must not fail."""
    context = chromium.new_context(viewport=TABLET, base_url=address, has_touch=True, bypass_csp=True)
    page = context.new_page()
    page.set_default_timeout(15_000)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert faults == []


def log_in(page: Page, login: str) -> None:
    page.goto("/login?other=yes")
    page.get_by_label("Log-in name").fill(login)
    page.get_by_label("Password").fill(PASSWORD)
    page.locator("main").get_by_role("button", name="Log in").click()
    page.wait_for_url("**/")


def set_pin(page: Page, pin: str) -> None:
    page.goto("/me")
    page.locator("#f-pin_password").fill(PASSWORD)
    page.locator("#f-pin").fill(pin)
    page.locator("#f-pin_again").fill(pin)
    page.get_by_role("button", name="Set the PIN").click()
    page.wait_for_url("**note=pin-set")


def broken_rules(page: Page) -> list[str]:
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{page.url}: {each['id']}: {each['nodes'][0]['html'][:120]}" for each in found]


def test_the_machine_changes_hands_by_touch_and_a_review_not_kept_is_told_first(
    touched: Page, practice: Practice
) -> None:
    series = a_series(practice)
    image = loaded(practice, series, slot="UR-molar").id
    log_in(touched, "wilna")
    set_pin(touched, OTHER_PIN)
    log_in(touched, "tomke")
    set_pin(touched, PIN)

    # A fault is marked and not kept: the first touch tells, the second goes on.
    touched.goto(f"/exposures/{image}/review")
    touched.wait_for_selector("html[data-ready]")
    touched.locator(".chip").first.tap()
    touched.get_by_role("link", name="Change person").tap()
    told = touched.get_by_role("heading", name="This review is not kept yet")
    expect(told).to_be_visible()
    touched.get_by_role("button", name="Stay here").tap()
    expect(told).to_have_count(0)
    touched.get_by_role("link", name="Change person").tap()
    touched.get_by_role("link", name="Change person without it").tap()

    # Large keys for gloved hands: every one at least 44 px, and no other keyboard in the way.
    touched.wait_for_selector(".keypad button")
    touched.wait_for_selector("html[data-ready]")
    sizes = [each.bounding_box() for each in touched.locator(".keypad button, .switch-person").all()]
    rules = broken_rules(touched)
    touched.locator(".switch-person", has_text="Wilna").tap()
    for digit in OTHER_PIN:
        touched.get_by_role("button", name=digit, exact=True).tap()
    typed = touched.locator("#f-pin").input_value()
    touched.locator("main").get_by_role("button", name="Change person").tap()
    touched.wait_for_url(f"**/exposures/{image}/review")

    assert [size for size in sizes if size is None or size["height"] < 64 or size["width"] < 64] == []
    assert rules == []
    assert typed == OTHER_PIN
    expect(touched.locator(".top-person")).to_contain_text("Wilna")


def test_no_page_of_log_ins_breaks_a_rule_or_is_wider_than_a_narrow_screen(touched: Page) -> None:
    log_in(touched, "ruan")
    broken, wide = [], []
    for place in ("/me", "/me/log-ins", "/me/second-factor", "/practice/log-ins", "/switch", "/login?other=yes"):
        touched.goto(place)
        touched.wait_for_selector("html[data-ready]")
        broken += broken_rules(touched)
        # As wide as a page of 640 px at 200 % text.
        touched.set_viewport_size({"width": 320, "height": 640})
        if touched.evaluate("document.documentElement.scrollWidth") > 320:
            wide.append(place)
        touched.set_viewport_size(TABLET)

    assert (broken, wide) == ([], [])
