"""The assistant's whole task in a real browser: from a new patient to the printed record."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import DESKTOP, TABLET
from tests.browser.files import drawing, whole_series

OpenPage = Callable[..., Page]

FAULTS = {
    "Upper right molar": "Apex cut off",
    "Lower left canine": "Apex cut off",
    "Upper left premolar": "Overlapped contacts",
}
"""Three faults; the overlapped contacts stand open on the bitewings of that side."""


def start_series(page: Page, chart_number: str, name: str) -> str:
    """Register a patient, start an adult series of 18, and answer its address."""
    page.goto("/series/new")
    page.get_by_role("link", name="New patient").click()
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("Chart number").fill(chart_number)
    page.get_by_label("Born").fill("1979-08-14")
    page.locator("main form button[type=submit]").click()
    page.get_by_role("link", name=re.compile("chart is right")).click()
    page.locator("input[name=template][value=adult-18]").check()
    page.get_by_label("Prescribed by").select_option(label="Dr Wilna Achterberg")
    page.get_by_label("Why").fill("new patient, generalised disease")
    page.get_by_role("button", name="Start the series").click()
    page.wait_for_url(re.compile(r"/series/[0-9a-f]{16}$"))
    return page.url


def ready(page: Page) -> None:
    """Wait until the page's scripts listen (a person is never so fast)."""
    page.wait_for_selector("html[data-ready]")


def load_whole_series(page: Page) -> None:
    """Drop all files at once, look at the proposal, and keep it."""
    ready(page)
    page.locator("#f-files").set_input_files(whole_series())  # type: ignore[arg-type]
    page.wait_for_url(re.compile("/assign"))
    expect(page.locator(".assign-mount .piece")).to_have_count(18)
    page.get_by_role("button", name="Keep this assignment").click()
    page.get_by_role("link", name="Review", exact=True).first.click()
    page.wait_for_url(re.compile("/review$"))


def review(page: Page, fault: str | None) -> None:
    """Say of the image on the page that all is shown, or by which fault it is not."""
    before = page.url
    if fault is None:
        page.get_by_role("button", name=re.compile("^All shown")).click()
    else:
        page.locator(".fault-chips").get_by_text(fault, exact=True).click()
        page.get_by_role("button", name=re.compile("^Keep what is not shown")).click()
    page.wait_for_function("before => location.href !== before", arg=before)


@pytest.mark.parametrize("size", [DESKTOP, TABLET], ids=["desktop", "tablet"])
def test_from_a_new_patient_to_the_printed_record(
    open_page: OpenPage, size: dict[str, int], tmp_path: Path
) -> None:
    """Three faults, one made up for by neighbours: two retakes, complete, closed, printed on one page."""
    page = open_page(size=size)
    name = f"Orla Fenwright {size['width']}"
    address = start_series(page, f"B-{size['width']}", name)
    load_whole_series(page)
    for _ in range(18):
        review(page, FAULTS.get(page.locator("h1").inner_text()))
    page.goto(address)

    expect(page.locator("#plan .plan-sum")).to_contain_text("2 exposures to take")
    expect(page.locator("#plan .plan-sum")).to_contain_text("would take 3")
    expect(page.locator("#plan .spared")).to_contain_text("Upper left premolar: overlapped contacts")
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]

    for title, slot in (("Lower left canine", "LL-canine"), ("Upper right molar", "UR-molar")):
        page.get_by_role("button", name=f"Take {title} again").click()
        expect(page.locator("#plan")).to_contain_text("Ordered under Dr Wilna Achterberg")
        ready(page)
        with page.expect_file_chooser() as choosing:
            page.get_by_role("link", name="Load its image").click()
        choosing.value.set_files([drawing(slot, f"{slot}-again.png")])  # type: ignore[list-item]
        page.get_by_role("link", name="Review", exact=True).first.click()
        expect(page.locator("h1")).to_contain_text(title)
        review(page, None)
        page.goto(address)

    expect(page.locator("h2, strong, p").filter(has_text=re.compile("^Complete")).first).to_be_visible()
    expect(page.locator("#workspace")).to_contain_text("118 covered")
    page.get_by_role("link", name="Close", exact=True).click()
    page.get_by_role("button", name="Close the series").click()
    page.goto(f"{address}/record")
    expect(page.locator("main")).to_contain_text(name)
    assert pages_printed(page, tmp_path / "record.pdf") == 1


def pages_printed(page: Page, file: Path) -> int:
    """How many sheets of A4 the page prints on."""
    page.pdf(path=str(file), format="A4", prefer_css_page_size=True, print_background=True)
    assert shutil.which("pdfinfo"), "pdfinfo is missing. Install it: apt-get install poppler-utils"
    told = subprocess.run(["pdfinfo", str(file)], capture_output=True, text=True, check=True).stdout
    return int(re.search(r"Pages:\s+(\d+)", told).group(1))  # type: ignore[union-attr]


def test_one_key_reviews_an_image_and_goes_on(open_page: OpenPage) -> None:
    """The keyboard alone reviews a whole series."""
    page = open_page()
    address = start_series(page, "B-keys", "Keyboard Only")
    load_whole_series(page)
    ready(page)
    page.locator("#lightbox").focus()
    for _ in range(18):
        before = page.url
        page.keyboard.press("a")
        page.wait_for_function("before => location.href !== before", arg=before)
        if "/review" in page.url:
            page.locator("#lightbox").focus()
    page.goto(address)

    expect(page.locator("#workspace")).to_contain_text("118 covered")


def test_bad_files_of_a_batch_are_told_and_stop_no_other(open_page: OpenPage) -> None:
    """A cut JPEG, text named .png and an empty file each get their message; the good file is taken."""
    page = open_page()
    address = start_series(page, "B-bad", "Broken Files")
    good = drawing("UR-molar", "UR-molar.png")
    files = [
        {"name": "cut.png", "mimeType": "image/png", "buffer": good["buffer"][:400]},  # type: ignore[index]
        {"name": "words.png", "mimeType": "image/png", "buffer": b"I am no image at all\n"},
        {"name": "empty.png", "mimeType": "image/png", "buffer": b""},
        good,
        {**good, "name": "twice.png"},
    ]
    ready(page)
    page.locator("#f-files").set_input_files(files)  # type: ignore[arg-type]

    told = page.locator(".load-files")
    expect(told.locator("li")).to_have_count(5)
    expect(told).to_contain_text("cut short")
    expect(told).to_contain_text("text, not an image")
    expect(told).to_contain_text("empty")
    expect(told).to_contain_text("already image 1")
    page.goto(address)
    expect(page.locator("#workspace")).to_contain_text("1 image")


def test_touching_a_mark_tells_its_images_and_touching_an_image_lights_its_marks(open_page: OpenPage) -> None:
    page = open_page(size=TABLET, has_touch=True)
    address = start_series(page, "B-touch", "Touch Only")
    load_whole_series(page)
    review(page, None)
    page.goto(address)
    ready(page)
    page.locator("[data-chart] .mark.covered").first.dispatch_event("click")

    expect(page.locator("#chart-answer")).to_contain_text("Right premolar bitewing")
    page.locator("a[data-image]", has_text="premolar").first.wait_for()
    page.locator("a[data-image][aria-label^='Right premolar bitewing']").dispatch_event("click")
    expect(page.locator("[data-chart] .mark.lit").first).to_be_attached()
