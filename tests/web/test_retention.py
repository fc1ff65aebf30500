"""Keeping and erasing on the pages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from app.storage.people import Patient
from tests.people import Practice, a_patient
from tests.web.client import PageClient, words


def an_old_patient(practice: Practice) -> str:
    """Registered in 1990, and never seen since."""
    patient = a_patient(practice)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        row = scope.get(Patient, patient.id, "patient")
        row.created_at = datetime(1990, 1, 2, tzinfo=UTC)
        scope.session.add(row)
    return patient.id


def test_from_the_rule_to_the_erased_record(
    client_of: Callable[[str], PageClient], dentist: PageClient, practice: Practice
) -> None:
    patient_id = an_old_patient(practice)
    first = dentist.get("/retention")
    listed = dentist.submit(first, "/retention/rule", {"key": "cautious"})
    confirmed = dentist.submit(listed, "/retention/erasures")
    administrator = client_of("ruan")
    waiting = administrator.get("/retention")
    action = str(waiting.find("form[action$='/carry-out']")["action"])
    done = administrator.submit(waiting, action)

    assert "No rule is chosen" in first.text
    assert "30 years after the last entry" in words(listed.find("tbody tr"))
    assert confirmed.all("form[action$='/carry-out']") == [], "a dentist alone does not erase"
    assert "Merriweather" not in waiting.text
    assert "The record is erased. Backups still hold it" in done.text
    assert "Erased record" in dentist.get(f"/patients/{patient_id}").text
    assert dentist.get("/patients?q=Merriweather").all("tbody tr") == []


def test_a_hold_is_placed_told_and_lifted(dentist: PageClient, practice: Practice) -> None:
    address = f"/retention/holds/{a_patient(practice).id}"
    refused = dentist.submit(dentist.get(address), address, {"kind": "dispute"})
    kept = dentist.submit(refused, address, {"note": "case 7"})
    lifted = dentist.submit(kept, str(kept.find("form[action$='/lift']")["action"]))

    assert refused.error_at("note") == "this is empty. Fill it in"
    assert "a dispute case 7 until lifted" in words(kept.find("tbody tr"))
    assert "No hold is in force." in lifted.text


def test_a_wrong_rule_is_told_at_its_field(dentist: PageClient) -> None:
    page = dentist.submit(dentist.get("/retention"), "/retention/rule", {"key": "own", "years": "ten"})

    assert page.error_at("years").startswith('"ten" is no number of years')
    assert page.find('input[value="own"]').has_attr("checked")
