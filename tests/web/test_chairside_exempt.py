"""A dentist exempts a gap with a reason; it is listed, and can be asked for again."""

from __future__ import annotations

from tests.making import a_series
from tests.people import Practice
from tests.web.client import PageClient

TARGET = "apex:48:D"


def test_a_gap_exempted_by_the_dentist_stands_with_reason_and_name(
    dentist: PageClient, practice: Practice
) -> None:
    series = a_series(practice)

    dentist.post(f"/series/{series.id}/exemptions", {"target": TARGET, "reason": "seen on an earlier image"})

    page = dentist.get(f"/series/{series.id}?target={TARGET}")
    told = page.find("#chart-answer").get_text(" ", strip=True)
    assert "seen on an earlier image (Dr Wilna Achterberg)" in told
    assert "exempt" in page.find("#workspace").get_text(" ", strip=True)


def test_an_exempt_target_can_be_asked_for_again(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    dentist.post(f"/series/{series.id}/exemptions", {"target": TARGET, "reason": "seen on an earlier image"})

    dentist.post(f"/series/{series.id}/exemptions", {"target": TARGET, "again": "yes"})

    page = dentist.get(f"/series/{series.id}?target={TARGET}")
    assert "seen on an earlier image" not in page.find("#chart-answer").get_text(" ", strip=True)


def test_without_a_reason_nothing_is_exempt(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    page = dentist.post(f"/series/{series.id}/exemptions", {"target": TARGET, "reason": " "})

    assert page.status == 422
    assert (
        "exempt"
        not in dentist.get(f"/series/{series.id}?target={TARGET}").find("#chart-answer .answer-state").text
    )


def test_an_assistant_exempts_nothing(assistant: PageClient, practice: Practice) -> None:
    series = a_series(practice)

    page = assistant.post(f"/series/{series.id}/exemptions", {"target": TARGET, "reason": "no time"})

    assert page.status == 403
    assert "Exempt it because" not in str(assistant.get(f"/series/{series.id}?target={TARGET}").soup)
