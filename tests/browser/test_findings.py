"""A cone cut from the loading of its file to the verdict: seen, outlined, accepted by one key."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.conftest import Running
from tests.making import a_series
from tests.people import a_patient
from tests.work.radiographs import cone_cut


def test_a_cone_cut_is_outlined_accepted_by_key_and_changes_the_verdict(
    server: Running, open_page: Callable[..., Page], tmp_path: Path
) -> None:
    series = a_series(server.practice, patient_id=a_patient(server.practice, "F700").id)
    file = tmp_path / "cut.png"
    file.write_bytes(cone_cut())
    page = open_page()
    page.goto(f"/series/{series.id}")
    page.locator("select[name=slot]").select_option("UR-molar", force=True)
    page.locator("#f-files").set_input_files(str(file))

    expect(page.locator(".board-found")).to_contain_text("cone cut")
    page.locator(".board-found a").first.click()
    page.wait_for_selector("html[data-ready]")
    finding = page.locator(".finding", has_text="Cone cut").first
    expect(page.locator(".picture .found-here .found-line")).to_have_count(1)
    taken = page.locator(".promise-lost").count()
    page.keyboard.press("y")
    expect(finding).to_have_attribute("data-decision", "accepted")
    expect(finding).to_contain_text("accepted by Tomke Rill")
    lost = page.locator(".promise-lost")
    expect(lost.first).to_be_visible()

    assert taken == 0
    assert 0 < lost.count() < page.locator(".promise").count()

    page.keyboard.press("t")
    expect(page.locator("g.turned .found-line").first).to_be_visible()
    page.keyboard.press("s")
    expect(page.locator("#verdict")).to_contain_text("Not complete")


def test_a_dismissed_finding_loses_its_outline_and_fills_nothing(
    server: Running, open_page: Callable[..., Page], tmp_path: Path
) -> None:
    series = a_series(server.practice, patient_id=a_patient(server.practice, "F701").id)
    file = tmp_path / "cut.png"
    file.write_bytes(cone_cut("UL-molar"))
    page = open_page()
    page.goto(f"/series/{series.id}")
    page.locator("select[name=slot]").select_option("UL-molar", force=True)
    page.locator("#f-files").set_input_files(str(file))
    page.locator(".board-found a").first.click()
    page.wait_for_selector("html[data-ready]")
    page.keyboard.press("y")
    expect(page.locator(".promise-lost").first).to_be_visible()
    page.keyboard.press("f")
    page.keyboard.press("d")

    expect(page.locator(".finding").first).to_have_attribute("data-decision", "dismissed")
    expect(page.locator(".promise-lost")).to_have_count(0)
