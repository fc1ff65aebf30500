"""Every form that two people may have open asks before it undoes what a colleague did meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.exchange.quality_targets import grading_schemes
from app.storage.bookings import Appointment
from app.storage.series import SeriesRow
from app.work.letters import save_letter_text
from app.work.practice import add_receptor, add_room
from app.work.templates import copy_template
from tests.making import a_series, loaded
from tests.people import Practice
from tests.web.client import Page, PageClient, form_values, words

Values = Mapping[str, Any]


@dataclass(frozen=True)
class Form:
    """A page with a form, what a colleague enters, what the person enters, and what the choice names.

    Parameters
    ----------
    where : address of the page, with the id of what it is about in braces
    action : address of the form, where it is another one
    """

    where: str
    theirs: Values
    mine: Values
    named: str
    action: str = ""


HOLD = {"kind": "declined", "note": "moves house"}
FORMS = {
    "practice": Form("/practice", {"name": "Heron Row"}, {"name": "Heron Street"}, "Name of the practice"),
    "file names": Form(
        "/practice/loading",
        {"patterns": "*_ur6* = UR-molar"},
        {"patterns": "*_ul6* = UL-molar"},
        "Patterns",
        "/practice/loading/file-names",
    ),
    "threshold": Form(
        "/practice/receptors/{receptor}",
        {"name": "blurred.warning", "value": "0.5", "reason": "older sensor"},
        {"name": "blurred.warning", "value": "0.6", "reason": "newer sensor"},
        "blurred.warning",
        "/practice/receptors/{receptor}/thresholds",
    ),
    "template title": Form("/templates/{template}/edit", {"title": "A series"}, {"title": "Our series"}, "Title"),
    "slot of a template": Form("/templates/{template}/slots/UR-molar", {"burden": "2"}, {"burden": "3"}, "Burden"),
    "letter": Form("/letters/texts/{letter}", {"body": "Please call."}, {"body": "Please come."}, "Body"),
    "week": Form(
        "/calendar/hours?room={room}", {"hours-0": "9-12"}, {"hours-0": "10-12"}, "Monday", "/calendar/hours"
    ),
    "calendar": Form(
        "/calendar/hours",
        {"recall_share": "50"},
        {"recall_share": "60"},
        "Recall share",
        "/calendar/hours/settings",
    ),
    "targets": Form("/quality/targets", {"scheme_id": "{scheme}"}, {"scheme_id": "{scheme}"}, "Scheme"),
    "collimation": Form("/quality/radiation", {"practice": "round"}, {"practice": "rectangular"}, "In every room"),
    "hold": Form("/recall/patients/{patient}/hold", HOLD, {"kind": "transferred"}, "Held"),
    "prescription": Form(
        "/recall/patients/{patient}/prescribe",
        {"kind": "bitewings", "interval_months": "12", "reason": "lesions"},
        {"kind": "bitewings", "interval_months": "24", "reason": "low risk"},
        "Prescribed",
    ),
    "risk": Form("/recall/patients/{patient}/risk", {"level": "high"}, {"level": "low"}, "Caries risk"),
    "images from elsewhere": Form(
        "/recall/patients/{patient}/outside",
        {"kind": "bitewings", "taken_on": "2024-02-03"},
        {"kind": "full_series", "taken_on": "2024-02-03"},
        "Images from elsewhere",
    ),
    "intervals": Form("/recall/policies/fgdp_uk_3", {}, {"low_0": "5"}, "Table in force"),
    "cancelling": Form(
        "/bookings/{appointment}",
        {"reason": "ill"},
        {"reason": "on holiday"},
        "State",
        "/bookings/{appointment}/cancel",
    ),
    "closing": Form("/series/{series}/close", {}, {"reason": "patient left", "dentist": "{dentist}"}, "Images"),
}
"""What can be undone by a form that is older than what a colleague wrote."""


def things(practice: Practice) -> dict[str, str]:
    """What the forms are about."""
    practice_id, doctor = practice.dentist.practice_id, practice.dentist
    series = a_series(practice)
    begins = datetime.now(UTC).replace(microsecond=0) + timedelta(days=2)
    with practice.store.writing(practice_id) as scope:
        room = add_room(scope, doctor, "Attic").id
        receptor = add_receptor(scope, doctor, name="Sensor", kind="direct_sensor", size="2").id
        template = copy_template(scope, doctor, "adult-18", "Ours").key
        letter = save_letter_text(
            scope, practice.front_desk, kind="letter", title="Recall", subject="Your visit", body="Call us."
        ).id
        appointment = scope.add(
            Appointment(
                patient_id=series.patient_id,
                room_id=room,
                starts_at=begins,
                ends_at=begins + timedelta(minutes=30),
                minutes=30,
                purpose="review",
                booked_by=doctor.staff_id,
            )
        ).id
    return {
        "room": room,
        "receptor": receptor,
        "template": template,
        "letter": letter,
        "appointment": appointment,
        "series": series.id,
        "patient": series.patient_id,
        "dentist": doctor.staff_id,
        "scheme": next(iter(grading_schemes())),
    }


def send(client: PageClient, page: Page, action: str, changes: Values) -> Page:
    """Fill in and send the form of that address that has those fields."""
    for form in page.all(f'form[method="post"][action="{action}"]'):
        if all(form.select(f'[name="{field}"]') for field in changes):
            return client.request("POST", action, data=form_values(form) | dict(changes))
    raise AssertionError(f"no form {action} with {list(changes)} on the page {page.h1}")


@pytest.mark.parametrize("name", FORMS)
def test_a_form_older_than_a_colleague_s_change_asks_and_then_does_what_is_chosen(
    client_of: Callable[[str], PageClient], practice: Practice, name: str
) -> None:
    form, about = FORMS[name], things(practice)
    where = form.where.format(**about)
    action = (form.action or form.where).format(**about)
    if name == "closing":
        action = where
    theirs = {field: str(value).format(**about) for field, value in form.theirs.items()}
    mine = {field: str(value).format(**about) for field, value in form.mine.items()}
    first, second = client_of("wilna"), client_of("wilna")
    opened = second.get(where)
    if name == "closing":
        with practice.store.reading(practice.dentist.practice_id) as scope:
            series = scope.get(SeriesRow, about["series"], "series")
        loaded(practice, series, 7, slot="UR-molar")
    else:
        assert send(first, first.get(where), action, theirs).status == 200
    asked = send(second, opened, action, mine)
    labels = [words(each) for each in asked.all(".choice-table tbody th")]

    assert asked.status == 409, words(asked.soup.select_one("main"))
    assert any(each.startswith(form.named) for each in labels), labels
    over = asked.all("form.choice-way")[-1]
    sent = form_values(over)
    assert {field: sent.get(field) for field in mine} == mine
    done = second.submit_form(over)
    # A cancelled appointment cannot be cancelled again: it says so, instead of pretending.
    assert done.status == (422 if name == "cancelling" else 200), done.errors()


def test_a_page_of_nothing_new_is_simply_kept(dentist: PageClient) -> None:
    page: Page = dentist.submit(dentist.get("/practice"), "/practice", {})

    assert page.status == 200
