"""What is written down on the review's pages, and what the pages do with little or with wicked data."""

from __future__ import annotations

from datetime import UTC, datetime
from urllib.parse import parse_qs, urlsplit

import pytest

from app.storage.people import Patient
from app.storage.quality import ReceptorReading
from app.work.load_images import load_image
from app.work.practice import add_receptor
from app.work.quality_receptors import record_receptor_reading
from tests.making import a_series, image_file
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words
from tests.web.quality_people import PAGES, PERIOD, SLOTS, counted, csv_rows, rows, something_to_review, taken


@pytest.fixture
def reviewed(practice: Practice) -> Practice:
    """The practice with something to review."""
    something_to_review(practice)
    return practice


def test_one_exposure_alone_makes_whole_pages(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice, patient_id=a_patient(practice, "Q-9").id)
    taken(practice, practice.dentist, series, 790, "UR-molar", datetime(2026, 2, 1, tzinfo=UTC), ("blurred",))

    pages = {address: dentist.get(f"{address}?{PERIOD}") for address in PAGES}

    assert {page.status for page in pages.values()} == {200}
    assert "1 of 1" in counted(pages["/quality"], "non_diagnostic")
    assert "Fewer than 100" in counted(pages["/quality"], "non_diagnostic")


def test_a_name_that_is_a_formula_is_harmless_in_the_file(dentist: PageClient, reviewed: Practice) -> None:
    """CWE-1236."""
    with reviewed.store.writing(reviewed.dentist.practice_id) as scope:
        for each in scope.all(scope.select(Patient)):
            each.name = '=HYPERLINK("a")'
            scope.session.add(each)

    table = csv_rows(dentist.get(f"/quality/exposures?{PERIOD}&csv=exposures"))

    column = table[0].index("Patient")
    assert {row[column] for row in table[1:]} == {'\'=HYPERLINK("a")'}


def test_a_note_is_written_shown_on_both_charts_and_taken_off(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality/over-time?{PERIOD}")
    action = str(page.find('form[method="post"][action^="/quality/notes?"]')["action"])

    noted = dentist.submit(page, action, {"day": "2026-02-02", "text": "New sensor in the window room"})
    off = str(noted.find('form[action*="/withdraw"]')["action"])
    gone = dentist.submit(noted, off)

    assert words(noted.find(".notice")) == "The note stands on the charts."
    assert [("2 Feb 2026: New sensor" in words(each)) for each in noted.all("svg.q-chart")] == [True, True]
    assert "New sensor" not in words(gone.find("main"))
    assert parse_qs(urlsplit(gone.path).query)["from"] == ["2026-01"]


@pytest.mark.parametrize(("field", "value"), [("day", "2026-02-31"), ("day", ""), ("text", " ")])
def test_a_wrong_note_is_told_at_its_field(
    dentist: PageClient, practice: Practice, field: str, value: str
) -> None:
    page = dentist.get(f"/quality/over-time?{PERIOD}")
    action = str(page.find('form[method="post"][action^="/quality/notes?"]')["action"])

    again = dentist.submit(page, action, {"day": "2026-02-02", "text": "New sensor", field: value})

    assert again.status == 422
    assert again.error_at(field)
    assert not again.all('form[action*="/withdraw"]')


def test_an_assistant_takes_off_their_own_notes_and_no_colleague_s(client_of, reviewed: Practice) -> None:
    theirs, dentists = client_of("tomke"), client_of("wilna")
    for client, text in ((theirs, "New holder"), (dentists, "New sensor")):
        client.post(f"/quality/notes?{PERIOD}", {"day": "2026-02-02", "text": text})
    page = theirs.get(f"/quality/over-time?{PERIOD}")
    offered = [words(form.find_parent("tr")) for form in page.all('form[action*="/withdraw"]')]
    every = dentists.get(f"/quality/over-time?{PERIOD}").all('form[action*="/withdraw"]')

    answers = {theirs.post(str(form["action"])).status for form in every}

    assert (len(offered), "New holder" in offered[0], len(every)) == (1, True, 2)
    assert answers == {200, 403}


def test_targets_are_chosen_and_the_verdict_says_how_sure_it_is(dentist: PageClient, reviewed: Practice) -> None:
    page = dentist.get(f"/quality/targets?{PERIOD}")
    form = page.find("#choose-two-grades-2020")
    data = {str(each["name"]): str(each.get("value", "")) for each in form.select("input")}

    chosen = dentist.post("/quality/targets", data | {"two-grades-2020.from_day": "2026-01-01"})
    shown = dentist.get(f"/quality/targets?{PERIOD}")

    assert words(chosen.find(".notice")) == "The targets are kept, from the day you named on."
    assert "too few to tell" in words(shown.find(".q-figures"))
    assert shown.all("#table-grades tbody tr")
    assert shown.all("#table-schemes-chosen tbody tr")


@pytest.mark.parametrize(("field", "value"), [("A:digital", "120"), ("A:digital", "many"), ("from_day", "soon")])
def test_a_wrong_target_is_told_at_its_field(dentist: PageClient, field: str, value: str) -> None:
    page = dentist.get("/quality/targets")
    form = page.find("#choose-two-grades-2020")
    data = {str(each["name"]): str(each.get("value", "")) for each in form.select("input")}

    again = dentist.post("/quality/targets", data | {f"two-grades-2020.{field}": value})

    assert again.status == 422
    assert value in "".join(str(each["value"]) for each in again.all("#choose-two-grades-2020 input"))
    assert again.all(".field-error")


def test_a_figure_follows_a_change_at_once(dentist: PageClient, reviewed: Practice) -> None:
    before = counted(dentist.get(f"/quality?{PERIOD}"), "retaken")
    series = a_series(reviewed, patient_id=a_patient(reviewed, "Q-8").id)
    taken(reviewed, reviewed.dentist, series, 780, "UR-molar", datetime(2026, 3, 20, tzinfo=UTC))
    after = counted(dentist.get(f"/quality?{PERIOD}"), "retaken")

    assert ("1 of 10 " in before, "1 of 11 " in after) == (True, True)


def test_an_empty_practice_has_whole_pages(dentist: PageClient) -> None:
    pages = {address: dentist.get(address) for address in PAGES}

    assert {page.status for page in pages.values()} == {200}
    assert [address for address, page in pages.items() if "nan" in words(page.soup).lower().split()] == []
    assert [address for address, page in pages.items() if not page.all(".empty, .q-figures, .q-figure")] == []


def measured(practice: Practice) -> str:
    """A receptor whose air grew lighter after eight months: its id."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        receptor = add_receptor(scope, practice.dentist, name="Sensor A", kind="direct_sensor", size="2").id
    series = a_series(practice, patient_id=a_patient(practice, "Q-7").id)
    for number, slot in enumerate(SLOTS, start=1):
        made = load_image(
            practice.store,
            practice.dentist,
            series.id,
            data=image_file(760 + number),
            name="a.png",
            slot=slot,
            receptor_id=receptor,
            taken_at=datetime(2026, number, 3, tzinfo=UTC),
        ).exposure
        with practice.store.writing(practice.dentist.practice_id) as scope:
            record_receptor_reading(
                scope, made.id, air_grey=0.04 + number / 1000, enamel_grey=0.8, noise=0.004, sharpness=3.0
            )
    return receptor


def test_a_receptor_s_measurements_stand_on_charts_with_their_tables(
    dentist: PageClient, practice: Practice
) -> None:
    measured(practice)

    page = dentist.get("/quality/receptors?from=2026-01&to=2026-06")

    titles = [words(each) for each in page.all("h2")]
    assert titles == ["Grey level of air", "Grey level of enamel", "Noise", "Width of the sharpest edges"]
    assert (len(page.all("svg.q-chart")), len(page.all(".q-figure table"))) == (8, 8)
    assert [cells[1] for cells in rows(page, "air-grey-limits").values()] == [
        "0.0410",
        "0.0420",
        "0.0430",
        "0.0440",
        "0.0450",
        "0.0460",
    ]


def test_waiting_images_are_measured_from_the_page(dentist: PageClient, practice: Practice) -> None:
    receptor = measured(practice)
    series = a_series(practice, patient_id=a_patient(practice, "Q-6").id)
    load_image(
        practice.store, practice.dentist, series.id, data=image_file(779), name="b.png", receptor_id=receptor
    )
    page = dentist.get("/quality/receptors")

    after = dentist.submit(page, str(page.find('form[action*="/measure"]')["action"]))

    with practice.store.reading(practice.dentist.practice_id) as scope:
        assert len(scope.all(scope.select(ReceptorReading))) == len(SLOTS) + 1
    assert words(after.find(".notice")) == "Every stored image that names its receptor is measured."
