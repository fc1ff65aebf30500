"""Two people press at the same moment: the end is that of one after the other, and each is told what is true.

Two threads send through one application; each pair is tried several times, so that now one, now the other is
first.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any, TypeVar

import pytest

from app.storage.people import Patient
from app.storage.series import ExposureRow, SeriesRow
from app.work.audit_series import exposures_of
from app.work.merges import merge_patients
from app.work.retakes import orders_of
from tests.making import a_series, image_file, loaded
from tests.people import TODAY, Practice, a_patient
from tests.web.client import Page, PageClient

TIMES = 4
SLOTS = ("UR-molar", "UL-molar", "LR-molar", "LL-molar")


A = TypeVar("A")
B = TypeVar("B")


def at_once(first: Callable[[], A], second: Callable[[], B]) -> tuple[A, B]:
    """What two people are answered who press together."""
    together = Barrier(2)

    def press(deed: Callable[[], Any]) -> Any:
        together.wait()
        return deed()

    with ThreadPoolExecutor(2) as pool:
        one, two = pool.submit(press, first), pool.submit(press, second)
        return one.result(), two.result()


def some_images(practice: Practice) -> list[str]:
    """Images in four slots, none reviewed."""
    series = a_series(practice)
    return [loaded(practice, series, number, slot=slot).id for number, slot in enumerate(SLOTS, start=1)]


def row_of(practice: Practice, exposure_id: str) -> ExposureRow:
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return scope.get(ExposureRow, exposure_id, "image")


def status_of(practice: Practice, series: SeriesRow) -> str:
    with practice.store.reading(practice.assistant.practice_id) as scope:
        return scope.get(SeriesRow, series.id, "series").status


def sender(client: PageClient, series: SeriesRow, number: int, slot: str) -> Callable[[], Page]:
    """Sends an image for a slot, as our script does."""
    token, data = client.token(), image_file(number)
    return lambda: client.request(
        "POST",
        f"/series/{series.id}/images",
        data={"csrf_token": token, "slot": slot},
        files=[("files", (f"{number}.png", data))],
        headers={"Accept": "application/json"},
    )


def test_of_two_images_for_one_slot_one_is_taken_and_the_other_is_told_so(
    assistant: PageClient, dentist: PageClient, practice: Practice
) -> None:
    series = a_series(practice)
    told = []
    for number, slot in enumerate(SLOTS):
        answers = at_once(sender(assistant, series, 10 + number, slot), sender(dentist, series, 50 + number, slot))
        results = [each.json()["results"][0] for each in answers]
        told.append(sorted(each["outcome"] for each in results))
        assert any("has image" in each["message"] for each in results)
    with practice.store.reading(practice.assistant.practice_id) as scope:
        held = [each.slot for each in exposures_of(scope, series.id)]

    assert told == [["refused", "taken"]] * len(SLOTS)
    assert sorted(str(each) for each in held) == sorted(SLOTS)


def test_of_two_orders_for_one_slot_one_stands_and_the_other_is_told_so(
    assistant: PageClient, dentist: PageClient, practice: Practice
) -> None:
    series = a_series(practice)
    for number, slot in enumerate(SLOTS, start=1):
        loaded(practice, series, number, slot=slot)
    address = f"/series/{series.id}/retakes"
    tokens = assistant.token(), dentist.token()
    told = []
    for slot in SLOTS:
        data = {"slot": slot, "reason": "blurred", "authorised_by": practice.dentist.staff_id}
        answers = at_once(
            lambda data=data: assistant.request("POST", address, data={"csrf_token": tokens[0], **data}),
            lambda data=data: dentist.request("POST", address, data={"csrf_token": tokens[1], **data}),
        )
        told.append(sorted(each.status for each in answers))
        refused = next(each for each in answers if each.status == 422)
        assert "is ordered already" in refused.errors()[0]
    with practice.store.reading(practice.assistant.practice_id) as scope:
        ordered = sorted(each.slot for each in orders_of(scope, series.id))

    assert told == [[200, 422]] * len(SLOTS)
    assert ordered == sorted(SLOTS)


def test_an_image_never_comes_into_a_series_that_closes(
    assistant: PageClient, dentist: PageClient, practice: Practice
) -> None:
    """Either the image came first, and whoever closes is shown that; or the series is closed without it."""
    ends = []
    for number in range(TIMES):
        series = a_series(practice, patient_id=a_patient(practice, f"C{number}").id)
        loaded(practice, series, 200 + number, slot="UR-molar")
        address = f"/series/{series.id}/close"
        page = dentist.get(address)
        changes = {"reason": "patient left", "dentist": practice.dentist.staff_id}
        sent, closed = at_once(
            sender(assistant, series, 300 + number, "UL-molar"),
            lambda address=address, page=page, changes=changes: dentist.submit(page, address, changes),
        )
        with practice.store.reading(practice.assistant.practice_id) as scope:
            images = len(exposures_of(scope, series.id))
        taken = sent.status == 200 and sent.json()["results"][0]["outcome"] == "taken"
        ends.append((taken, closed.h1 == "Changed meanwhile", status_of(practice, series), images))

    assert set(ends) <= {(True, True, "open", 2), (False, False, "closed", 1)}


def test_a_review_and_a_setting_aside_end_like_one_after_the_other(
    assistant: PageClient, dentist: PageClient, practice: Practice
) -> None:
    ends = []
    for image in some_images(practice):
        review, aside = f"/exposures/{image}/review", f"/exposures/{image}/set-aside"
        series = row_of(practice, image).series_id
        opened, board = dentist.get(review), assistant.get(f"/series/{series}?image={image}")
        reviewed, put = at_once(
            lambda opened=opened, review=review: dentist.submit(opened, review, {"verdict": "all"}),
            lambda board=board, aside=aside: assistant.submit(board, aside, {"reason": "wrong patient"}),
        )
        row = row_of(practice, image)
        ends.append((reviewed.status, put.status, row.reviewed, row.set_aside_reason))

    # Reviewed first: whoever sets it aside is asked. Set aside first: the review is refused with the reason.
    assert set(ends) <= {(200, 409, True, None), (422, 200, False, "wrong patient")}


def test_of_two_reviews_that_differ_one_stands_and_the_other_is_asked(
    assistant: PageClient, dentist: PageClient, practice: Practice
) -> None:
    ends = []
    for image in some_images(practice):
        address = f"/exposures/{image}/review"
        pages = dentist.get(address), assistant.get(address)
        good, faulty = at_once(
            lambda page=pages[0], address=address: dentist.submit(page, address, {"verdict": "all"}),
            lambda page=pages[1], address=address: assistant.submit(
                page, address, {"verdict": "faults", "fault": ["blurred"]}
            ),
        )
        row = row_of(practice, image)
        ends.append((good.status, faulty.status, [each["code"] for each in row.shortfalls]))

    assert all(end in ((200, 409, []), (409, 200, ["blurred"])) for end in ends), ends


def test_of_two_corrections_of_one_patient_none_is_lost(
    assistant: PageClient, front_desk: PageClient, practice: Practice
) -> None:
    patient = a_patient(practice)
    address = f"/patients/{patient.id}/edit"
    for number in range(TIMES):
        pages = assistant.get(address), front_desk.get(address)
        one, two = at_once(
            lambda page=pages[0], number=number: assistant.submit(page, address, {"phone": f"555 {number}"}),
            lambda page=pages[1], number=number: front_desk.submit(
                page, address, {"email": f"a{number}@b.example"}
            ),
        )
        late = (assistant, one) if one.status == 409 else (front_desk, two)
        form = next(each for each in late[1].all("form.choice-way") if "Save both" in each.get_text())
        late[0].submit_form(form)
        with practice.store.reading(practice.assistant.practice_id) as scope:
            row = scope.get(Patient, patient.id, "patient")

        assert sorted((one.status, two.status)) == [200, 409]
        assert (row.phone, row.email) == (f"555 {number}", f"a{number}@b.example")


@pytest.mark.parametrize("first_moves", [True, False])
def test_two_who_assign_different_images_can_have_both(
    assistant: PageClient, dentist: PageClient, practice: Practice, first_moves: bool
) -> None:
    series = a_series(practice)
    ids = [loaded(practice, series, number).id for number in (1, 2)]
    address = f"/series/{series.id}/assign"
    pages = assistant.get(address), dentist.get(address)
    mine = {f"slot:{ids[0]}": "UR-molar", f"slot:{ids[1]}": ""}
    theirs = {f"slot:{ids[0]}": "", f"slot:{ids[1]}": "LL-molar"}
    people = [(assistant, pages[0], mine), (dentist, pages[1], theirs)]
    (one, page, values), (two, other, more) = people if first_moves else people[::-1]
    one.submit(page, address, values)
    asked = two.submit(other, address, more)
    form = next(each for each in asked.all("form.choice-way") if "Save both" in each.get_text())
    two.submit_form(form)

    assert asked.status == 409
    assert [row_of(practice, each).slot for each in ids] == ["UR-molar", "LL-molar"]


def test_a_patient_who_is_merged_while_being_corrected_is_never_written_into_the_void(
    assistant: PageClient, practice: Practice
) -> None:
    """Corrected first: what was corrected is what is merged. Merged first: the correction is refused in words."""
    ends = set()
    for number in range(TIMES):
        kept, double = a_patient(practice, f"K{number}"), a_patient(practice, f"M{number}")
        address = f"/patients/{double.id}/edit"
        page = assistant.get(address)

        def merge(kept_id: str = kept.id, double_id: str = double.id) -> None:
            with practice.store.writing(practice.dentist.practice_id) as scope:
                merge_patients(
                    scope,
                    practice.front_desk,
                    kept_id=kept_id,
                    merged_id=double_id,
                    reason="twice",
                    choices={},
                    today=TODAY,
                )

        answer, _ = at_once(
            lambda page=page, address=address: assistant.submit(page, address, {"phone": "555 0101"}), merge
        )
        with practice.store.reading(practice.dentist.practice_id) as scope:
            row = scope.session.get(Patient, double.id)
            assert row is not None
            ends.add((answer.status, answer.path.startswith(f"/patients/{kept.id}"), row.phone))
        assert row.merged_into == kept.id

    assert ends <= {(200, True, "555 0101"), (200, False, "555 0101"), (409, False, "")}, ends
