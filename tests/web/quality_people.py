"""A practice with something to review: exposures of two people, retakes, a series closed with gaps."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import UTC, datetime

from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import Actor
from app.work.close import close_series
from app.work.load_images import load_image
from app.work.retakes import order_retake
from app.work.review import review_exposure
from tests.making import a_series, image_file
from tests.people import Practice, a_patient
from tests.web.client import Page, words

PERIOD = "from=2026-01&to=2026-03"
PAGES = (
    "/quality",
    "/quality/figures",
    "/quality/exposures",
    "/quality/incomplete",
    "/quality/comparison",
    "/quality/over-time",
    "/quality/receptors",
    "/quality/targets",
    "/quality/training",
)
DENTISTS_PAGES = ("/quality/targets",)
"""The practice's grades are nobody's own."""
SLOTS = ("UR-molar", "UR-premolar", "UL-premolar", "UL-molar", "LR-molar", "LL-molar")


@dataclass(frozen=True)
class Reviewed:
    """What was made."""

    first: SeriesRow
    second: SeriesRow


def taken(
    practice: Practice,
    by: Actor,
    series: SeriesRow,
    number: int,
    slot: str,
    at: datetime,
    faults: tuple[str, ...] = (),
) -> ExposureRow:
    """An image taken at a moment, and reviewed with its faults."""
    exposure = load_image(
        practice.store,
        by,
        series.id,
        data=image_file(number),
        name=f"image-{number}.png",
        slot=slot,
        operator_id=by.staff_id,
        taken_at=at,
    ).exposure
    with practice.store.writing(by.practice_id) as scope:
        review_exposure(scope, by, exposure.id, shortfalls=[{"code": code} for code in faults])
    return exposure


def retaken(practice: Practice, by: Actor, series: SeriesRow, number: int, slot: str, at: datetime) -> ExposureRow:
    """A good retake of the slot's image, ordered and made."""
    with practice.store.writing(by.practice_id) as scope:
        order_retake(scope, by, series.id, slot=slot, authorised_by=practice.dentist.staff_id, at=at)
    return taken(practice, by, series, number, slot, at)


def something_to_review(practice: Practice) -> Reviewed:
    """The assistant's series of January with a retake, closed with gaps; the dentist's of March, still open."""
    first = a_series(practice, patient_id=a_patient(practice, "Q-1").id)
    january = datetime(2026, 1, 14, 9, 0, tzinfo=UTC)
    faults = {"UR-molar": ("apex_cut_off",), "LL-molar": ("cone_cut",)}
    for number, slot in enumerate(SLOTS, start=700):
        taken(practice, practice.assistant, first, number, slot, january, faults.get(slot, ()))
    retaken(practice, practice.assistant, first, 720, "UR-molar", january)
    with practice.store.writing(practice.dentist.practice_id) as scope:
        close_series(
            scope,
            practice.dentist,
            first.id,
            dentist_id=practice.dentist.staff_id,
            reason="the patient could not stay",
            at=january,
        )
    second = a_series(practice, patient_id=a_patient(practice, "Q-2").id)
    march = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
    for number, slot in enumerate(SLOTS[:3], start=740):
        taken(practice, practice.dentist, second, number, slot, march, ("blurred",) if number == 740 else ())
    return Reviewed(first, second)


def counted(page: Page, figure: str) -> str:
    """What a headline figure says."""
    return words(page.find(f'[data-figure="{figure}"]'))


def rows(page: Page, key: str) -> dict[str, list[str]]:
    """A table's cells by the head of each row."""
    return {
        words(row.th).split(" few")[0]: [words(cell) for cell in row.find_all("td")]
        for row in page.all(f"#table-{key} tbody tr")
    }


def csv_rows(page: Page) -> list[list[str]]:
    """The table of an answer in CSV."""
    return list(csv.reader(io.StringIO(page.response.content.decode("utf-8-sig"), newline="")))
