"""Makes the README's screenshots from the demo: ``.venv/bin/python -m tests.browser.screenshots``."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from seed.people import DEMO_PASSWORD
from tests.browser.conftest import CHROMIUM_ARGUMENTS, DESKTOP, TABLET, start_server

FOLDER = Path(__file__).resolve().parents[2] / ".ci" / "screenshots"


def logged_in(browser: Browser, address: str, size: dict[str, int]) -> Page:
    """A page on which the demo's assistant has logged in."""
    page = browser.new_context(viewport=size, base_url=address).new_page()  # type: ignore[arg-type]
    page.goto("/login")
    page.get_by_label("Log-in name").fill("merrin")
    page.get_by_label("Password").fill(DEMO_PASSWORD)
    page.locator("main button[type=submit]").click()
    page.wait_for_url("**/")
    return page


def taken(page: Page, name: str, address: str) -> None:
    """Open the address and keep its picture."""
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.screenshot(path=str(FOLDER / f"{name}.png"))
    print(name)


def series_in_state(page: Page, words: str) -> str:
    """The address of today's open series whose state reads so."""
    page.goto("/")
    row = page.locator("tr", has_text=re.compile(words)).first
    href = row.locator("a[href^='/series/']").first.get_attribute("href")
    assert href is not None
    return href


def main() -> None:
    """Start the demo, walk through its pages, and stop it."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    process, address = start_server(["--demo"], {})
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM_ARGUMENTS)
            desktop, tablet = logged_in(browser, address, DESKTOP), logged_in(browser, address, TABLET)
            faulty = series_in_state(desktop, r"\b[1-9]\d? gaps?")
            fresh = series_in_state(tablet, r"\d{3} gaps")
            taken(desktop, "home-desktop", "/")
            taken(desktop, "series-desktop", faulty)
            image = desktop.locator(".cell-film").first.get_attribute("data-image")
            taken(desktop, "review-desktop", f"/exposures/{image}/review")
            taken(desktop, "record-desktop", f"{faulty}/record")
            taken(tablet, "series-tablet", faulty)
            taken(tablet, "assign-tablet", f"{fresh}/assign")
            tablet.goto(faulty)
            chart = tablet.locator("a[href^='/patients/']").first.get_attribute("href")
            taken(tablet, "chart-tablet", f"{chart}/chart")
            browser.close()
    finally:
        process.terminate()
        process.wait(timeout=20)


if __name__ == "__main__":
    main()
