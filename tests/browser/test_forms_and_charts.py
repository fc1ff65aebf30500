"""In a real browser: the teeth are touched, keys do the same, and no page breaks an accessibility rule."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from app.core.dentition import Dentition, ToothState
from app.storage.people import Patient
from app.work.charts import chart_of
from app.work.patients import save_chart
from app.work.templates import copy_template
from tests.browser.serving import logged_in, serving
from tests.making import a_series
from tests.people import PASSWORD, Practice, a_patient


@pytest.fixture
def address(practice: Practice, tmp_path: Path) -> Iterator[str]:
    with serving(tmp_path / "data") as served:
        yield served


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    opened = logged_in(chromium, address, "wilna", PASSWORD)
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    opened.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    yield opened
    opened.context.close()
    # A refused form is told by the browser's console too; that is no fault of a script.
    assert [fault for fault in faults if "the server responded with a status of" not in fault] == []


def kept(practice: Practice, patient_id: str) -> Dentition:
    with practice.store.reading(practice.dentist.practice_id) as scope:
        return chart_of(scope.get(Patient, patient_id, "patient"))


def open_chart(page: Page, patient_id: str, tail: str = "") -> None:
    page.goto(f"/patients/{patient_id}/chart{tail}")
    page.wait_for_selector('[data-part="drawn"]:not([hidden])')


def test_a_touched_tooth_is_changed_and_kept(page: Page, practice: Practice) -> None:
    patient = a_patient(practice)
    open_chart(page, patient.id)
    page.click('button[data-tooth="36"]')
    page.get_by_role("radio", name="implant").check()
    page.click('button[data-tooth="24"]')
    page.locator(".tooth-panel").get_by_text("R only root").click()
    drawn = page.get_attribute('button[data-tooth="36"]', "data-state")
    page.get_by_role("button", name="Keep the chart").click()
    page.wait_for_url("**note=chart-kept")

    assert drawn == "implant"
    assert kept(practice, patient.id) == Dentition(states={"36": ToothState.IMPLANT}, roots={"24": ("R",)})


def test_the_keyboard_alone_changes_a_tooth(page: Page, practice: Practice) -> None:
    patient = a_patient(practice)
    open_chart(page, patient.id)
    page.focus('button[data-tooth="11"]')
    for key in ("ArrowRight", "ArrowDown", "Enter"):
        page.keyboard.press(key)
    page.focus('.tooth-panel input[value="present"]')
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Tab")
    page.focus("button:has-text('Keep the chart')")
    page.keyboard.press("Enter")
    page.wait_for_url("**note=chart-kept")

    assert kept(practice, patient.id) == Dentition(states={"31": ToothState.MISSING})


def test_a_space_is_closed_by_touching_the_tooth_that_is_gone(page: Page, practice: Practice) -> None:
    patient = a_patient(practice)
    open_chart(page, patient.id)
    page.click('button[data-tooth="14"]')
    page.get_by_role("radio", name="missing").check()
    page.get_by_role("checkbox", name="closed: 15 and 13 touch").check()
    said = page.get_attribute('button[data-tooth="14"]', "aria-label")
    page.get_by_role("button", name="Keep the chart").click()
    page.wait_for_url("**note=chart-kept")

    assert said == "14, missing, space closed"
    assert kept(practice, patient.id).closed_spaces == (("15", "13"),)


def test_a_closed_space_is_opened_again(page: Page, practice: Practice) -> None:
    patient = a_patient(practice)
    chart = Dentition(states={"35": ToothState.MISSING}, closed_spaces=(("34", "36"),))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        save_chart(scope, practice.dentist, patient.id, chart)
    open_chart(page, patient.id)
    page.click('button[data-tooth="35"]')
    page.get_by_role("checkbox", name="closed: 34 and 36 touch").uncheck()
    page.get_by_role("button", name="Keep the chart").click()
    page.wait_for_url("**note=chart-kept")

    assert kept(practice, patient.id) == Dentition(states={"35": ToothState.MISSING})


def test_the_touched_tooth_says_its_name_and_state(page: Page, practice: Practice) -> None:
    patient = a_patient(practice)
    open_chart(page, patient.id)
    page.click('button[data-tooth="18"]')
    page.get_by_role("radio", name="missing").check()

    assert page.get_attribute('button[data-tooth="18"]', "aria-label") == "18, missing"
    assert page.get_attribute('button[data-tooth="18"]', "aria-pressed") == "true"
    page.wait_for_function("document.getElementById('heard').textContent === '18 missing'")


def test_the_error_summary_takes_the_focus_and_leads_to_its_field(page: Page) -> None:
    page.goto("/patients/new")
    page.evaluate("document.querySelector('main form').noValidate = true")
    page.click("main button[type=submit]")
    page.wait_for_selector(".mend:focus")
    page.click(".mend a")

    assert page.evaluate("document.activeElement.id") == "f-chart_number"


def test_the_chart_is_a_table_where_there_are_no_scripts(
    chromium: Browser, address: str, practice: Practice
) -> None:
    patient = a_patient(practice)
    context = chromium.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto("/login")
    page.fill("#f-login", "wilna")
    page.fill("#f-password", PASSWORD)
    page.click("main button[type=submit]")
    page.goto(f"/patients/{patient.id}/chart")
    page.select_option("#state-28", "missing")
    page.get_by_role("button", name="Keep the chart").click()
    page.wait_for_url("**note=chart-kept")
    context.close()

    assert kept(practice, patient.id) == Dentition(states={"28": ToothState.MISSING})


def every_page(practice: Practice) -> list[str]:
    patient = a_patient(practice)
    a_series(practice, patient_id=patient.id)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        own = copy_template(scope, practice.dentist, "bitewings-2", "Ours")
    slot = own.body["slots"][0]["id"]
    one = f"/patients/{patient.id}"
    return [
        "/",
        "/me",
        "/nowhere",
        "/cautions",
        "/patterns",
        "/api",
        "/patients",
        "/patients?q=zzz",
        "/patients/new",
        one,
        f"{one}/edit",
        f"{one}/chart",
        f"{one}/chart?kind=mixed",
        "/series/new",
        f"/series/new?patient={patient.id}",
        f"/series/new/{patient.id}",
        "/templates",
        "/templates/adult-18",
        f"/templates/{own.key}/edit",
        f"/templates/{own.key}/slots/{slot}",
        "/practice",
        "/practice/staff",
        f"/practice/staff/{practice.assistant.staff_id}/password",
        "/practice/rooms",
        "/practice/loading",
        "/practice/loading/adult-18",
    ]


def test_no_page_breaks_an_accessibility_rule_or_runs_over_the_edge(page: Page, practice: Practice) -> None:
    """axe-core's rules on every page; none is wider than a tablet; nothing to touch is lower than 44 pixels."""
    found: list[str] = []
    for address in every_page(practice):
        page.goto(address)
        page.wait_for_selector("html[data-ready]")
        answer = Axe().run(page).response
        assert len(answer["passes"]) > 10
        found += [f"{address}: {each['id']} at {each['nodes'][0]['html'][:120]}" for each in answer["violations"]]
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            found.append(f"{address}: wider than the screen")
        found += [f"{address}: {each}" for each in page.evaluate(SMALL_TARGETS)]

    assert found == []


SMALL_TARGETS = """
[...document.querySelectorAll("button, .button, nav a, .top a, .foot a, input:not([type=hidden]), select")]
  .map(each => [each, (each.closest("label") || each).getBoundingClientRect()])
  .filter(([each, box]) => box.width && (box.height < 43.5 || box.width < 43.5) && !each.closest(".only-heard"))
  .map(([each, box]) => `${each.outerHTML.slice(0, 100)} is ${box.width.toFixed(0)} by ${box.height.toFixed(0)}`)
"""
