"""The pages of the recall, as a browser without scripts meets them."""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial

import pytest

from app.work.patients import register_patient
from app.work.recall_policies import choose_policy
from app.work.recall_recompute import outdate_all, stale_count
from app.work.recall_upkeep import catch_up
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words

TODAY = date.today()


@pytest.fixture
def patient(practice: Practice) -> str:
    """An adult without images, on the list since a registration of today."""
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return register_patient(
            scope, practice.front_desk, chart_number="H200", name="Ilva Tern", birth_date="1984-05-06",
            phone="555 0134", preferred_contact="phone", today=TODAY,
        ).id  # fmt: skip


def test_the_list_names_phone_and_reason_and_says_that_images_are_prescribed(
    front_desk: PageClient, patient: str
) -> None:
    page = front_desk.get("/recall?when=due")
    row = words(page.find("tbody tr"))

    assert "Ilva Tern" in row
    assert "555 0134" in row
    assert "Radiographs are prescribed individually" in words(page.find("main"))
    assert "No table of intervals is chosen" in words(page.find("main"))
    assert not page.all("main img")


def test_filters_stand_in_the_address_and_in_the_form(front_desk: PageClient, patient: str) -> None:
    page = front_desk.get("/recall?when=due&risk=high&contact=phone&sort=risk&ready=yes")

    assert words(page.find('select[name="risk"] option[selected]')) == "high"
    assert page.find('input[name="ready"]').has_attr("checked")
    assert "risk=high" in str(page.find(".recall-parts a")["href"])
    assert words(page.find(".empty")) == "Nobody is in this part of the list with these filters."


@pytest.mark.parametrize(
    "query", ["when=whenever", "page=-1", "page=x", "page=99999999", "risk=%00", "sort=id;drop"]
)
def test_an_address_with_nonsense_shows_a_list(front_desk: PageClient, patient: str, query: str) -> None:
    assert front_desk.get(f"/recall?{query}").h1 == "Recall"


def test_an_empty_practice_has_an_empty_list(front_desk: PageClient) -> None:
    assert front_desk.get("/recall").all(".empty")


def test_a_claimed_patient_is_seen_as_such_by_the_others(
    front_desk: PageClient, assistant: PageClient, patient: str
) -> None:
    front_desk.submit(front_desk.get("/recall?when=due"), f"/recall/patients/{patient}/claim")
    seen = assistant.get("/recall/fragment?when=due")
    refused = assistant.post(f"/recall/patients/{patient}/claim")

    assert "Pell Orcutt is calling" in words(seen.find("tbody tr"))
    assert refused.status == 422
    assert refused.errors() == ["Pell Orcutt is calling Ilva Tern at this moment. Take the next one on the list"]


def test_a_contact_is_kept_with_its_next_try(front_desk: PageClient, patient: str) -> None:
    again = TODAY + timedelta(days=5)
    page = front_desk.post(
        f"/recall/patients/{patient}/contacts",
        {"outcome": "message", "next_try_on": again.isoformat(), "note": "x"},
    )

    assert f"next try {again.isoformat()}" in words(page.find("main"))
    assert not front_desk.get("/recall?when=due&ready=yes").all("tbody tr")
    assert len(front_desk.get("/recall?when=due").all("tbody tr")) == 1


def test_a_next_try_in_the_past_is_told_at_its_field(front_desk: PageClient, patient: str) -> None:
    page = front_desk.post(
        f"/recall/patients/{patient}/contacts", {"outcome": "message", "next_try_on": "2020-01-01", "note": "x"}
    )

    assert page.status == 422
    assert "is not ahead of us" in page.error_at("next_try_on")


def test_a_day_that_would_be_too_early_warns(front_desk: PageClient, dentist: PageClient, patient: str) -> None:
    base = f"/recall/patients/{patient}"
    taken = (TODAY - timedelta(days=30)).isoformat()
    kept = front_desk.submit(
        front_desk.get(f"{base}/outside"), f"{base}/outside", {"kind": "bitewings", "taken_on": taken}
    )
    day = (TODAY + timedelta(days=10)).isoformat()
    page = front_desk.get(f"{base}?day={day}")

    assert "Bitewings from elsewhere" in words(kept.find("main"))
    assert "may still serve" in words(page.find("main"))


def test_a_dentist_prescribes_and_withdraws(dentist: PageClient, patient: str) -> None:
    base = f"/recall/patients/{patient}"
    changes = {"kind": "bitewings", "interval_months": "12", "reason": "new lesions"}
    page = dentist.submit(dentist.get(f"{base}/prescribe"), f"{base}/prescribe", changes)
    said = words(page.find("main"))
    action = str(page.find('form[action*="/prescriptions/"]')["action"])
    after = dentist.submit(page, action)

    assert "prescribed by Dr Wilna Achterberg" in said
    assert "Prescribed: bitewings every 12 months" in said
    assert "withdrawn" in words(after.find("main"))


@pytest.mark.parametrize(
    ("form", "field"), [("prescribe", "interval_months"), ("risk", "level"), ("hold", "kind"), ("outside", "kind")]
)
def test_an_empty_form_says_what_is_missing_at_its_field(
    dentist: PageClient, patient: str, form: str, field: str
) -> None:
    base = f"/recall/patients/{patient}/{form}"
    changes = {"kind": "bitewings"} if form == "prescribe" else {}
    page = dentist.submit(dentist.get(base), base, changes)

    assert page.status == 422
    assert page.error_at(field)


@pytest.mark.parametrize("form", ["prescribe", "risk"])
def test_only_a_dentist_prescribes(front_desk: PageClient, patient: str, form: str) -> None:
    assert front_desk.get(f"/recall/patients/{patient}/{form}").status == 403
    assert not front_desk.get(f"/recall/patients/{patient}").all(f'a[href$="/{form}"]')


def test_a_hold_is_placed_and_lifted_by_the_desk(front_desk: PageClient, patient: str) -> None:
    base = f"/recall/patients/{patient}"
    page = front_desk.submit(front_desk.get(f"{base}/hold"), f"{base}/hold", {"kind": "transferred"})
    listed = front_desk.get("/recall?when=held").all("tbody tr")
    front_desk.submit(page, str(page.find('form[action*="/holds/"]')["action"]))

    assert len(listed) == 1
    assert not front_desk.get("/recall?when=held").all("tbody tr")


def test_a_superseded_table_warns_where_it_is_chosen_and_beside_the_list(
    dentist: PageClient, patient: str
) -> None:
    chosen = dentist.submit(dentist.get("/recall/policies/ada_fda_2012"), "/recall/policies/ada_fda_2012")

    assert "superseded: ADA/AAOMR patient-selection recommendations, January 2026" in words(
        chosen.find(".notice-warning")
    )
    assert "superseded" in words(dentist.get("/recall?when=due").find("tbody tr"))


def test_months_that_cannot_be_are_told_in_their_row(dentist: PageClient) -> None:
    address = "/recall/policies/ada_fda_2012"
    page = dentist.submit(dentist.get(address), address, {"low_8": "40"})

    assert page.status == 422
    assert "Swap the two numbers" in page.error_at("low_8")


@pytest.mark.parametrize("address", ["/recall/policies/nobody_1999", "/recall/patients/none"])
def test_what_is_not_there_is_told(dentist: PageClient, address: str) -> None:
    assert dentist.get(address).status == 404


def test_the_button_works_out_what_waits(
    front_desk: PageClient, practice: Practice, patient: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in (301, 302, 303):
        a_patient(practice, f"H{number}")
    monkeypatch.setattr("app.work.recall_policies.FIRST_STEP", 1)
    # One line at a time, where it would be as many as a second allows.
    monkeypatch.setattr("app.web.pages.recall.catch_up", partial(catch_up, seconds=0, step=1))
    with practice.store.writing(practice.dentist.practice_id) as scope:
        choose_policy(scope, practice.dentist, "none", today=TODAY)
    before = front_desk.get("/recall")
    after = front_desk.submit(before, "/recall/up-to-date")

    assert "2 lines wait to be worked out anew" in words(before.find("main"))
    assert "worked out anew" not in words(after.find("main"))


def test_what_waits_is_worked_out_before_the_list_is_shown(
    front_desk: PageClient, practice: Practice, patient: str
) -> None:
    with practice.store.writing(practice.dentist.practice_id) as scope:
        outdate_all(scope, TODAY)
    page = front_desk.get("/recall?when=due")
    with practice.store.reading(practice.dentist.practice_id) as scope:
        left = stale_count(scope, TODAY)

    assert left == 0
    assert "worked out anew" not in words(page.find("main"))
