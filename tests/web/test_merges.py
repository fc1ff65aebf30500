"""Double patients on the pages: proposed, compared, merged, undone."""

from __future__ import annotations

from tests.making import a_series
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words
from tests.work.test_merges import twin_of


def test_from_the_proposal_to_the_merge_and_back(front_desk: PageClient, practice: Practice) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    listed = front_desk.get("/doubles")
    compared = front_desk.get(str(listed.find("tbody a.button")["href"]))
    refused = front_desk.submit(compared, "/doubles/merge", {"phone": "other"})
    done = front_desk.submit(refused, "/doubles/merge", {"reason": "same address"})
    led = front_desk.get(f"/patients/{other.id}")
    action = str(done.find("form[action$='/undo']")["action"])
    back = front_desk.submit(done, action)

    assert refused.error_at("reason") == "this is empty. Fill it in"
    assert refused.find('input[name="phone"][value="other"]').has_attr("checked")
    assert led.path == f"/patients/{kept.id}"
    assert "01632 960009" in led.text
    assert "The merge is undone." in back.text
    assert front_desk.get(f"/patients/{other.id}").path == f"/patients/{other.id}"


def test_the_front_desk_is_told_that_a_dentist_merges_two_with_series(
    front_desk: PageClient, practice: Practice
) -> None:
    kept, other = a_patient(practice), twin_of(practice)
    for each in (kept, other):
        a_series(practice, patient_id=each.id)

    page = front_desk.get("/doubles/compare?one=H100&other=H200")

    assert words(page.find(".notice")) == "Both records have series: a dentist merges them."
    assert page.all("form[action='/doubles/merge'] .button-primary") == []


def test_an_unknown_chart_number_is_told_at_its_field(front_desk: PageClient, practice: Practice) -> None:
    a_patient(practice)

    page = front_desk.get("/doubles/compare?one=H100&other=H999")

    assert page.error_at("other") == 'nobody on record has the chart number "H999". Check it in the list'


def test_a_form_sent_for_a_merged_record_says_so(front_desk: PageClient, practice: Practice) -> None:
    _, other = a_patient(practice), twin_of(practice)
    form = front_desk.get(f"/patients/{other.id}/edit")
    front_desk.submit(
        front_desk.get("/doubles/compare?one=H100&other=H200"), "/doubles/merge", {"reason": "same address"}
    )

    page = front_desk.submit(form, f"/patients/{other.id}/edit", {"phone": "1"})

    assert page.status == 409
    assert "merged into another" in page.text


def test_a_practice_without_doubles_says_so(front_desk: PageClient) -> None:
    assert words(front_desk.get("/doubles").find(".empty")) == "No likely doubles."
