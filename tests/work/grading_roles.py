"""Who may do what with second readings, radiation and reports: the rows of `test_roles` for them."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from app.work import grading, grading_agreement, grading_draw, radiation, report_figures, report_signing
from app.work.actor import CHAIRSIDE, DENTISTS
from app.work.quality_period import Period
from app.work.review import review_exposure

GRADING_ROOMS = (grading, grading_agreement, grading_draw, radiation, report_figures, report_signing)
TRIED_ELSEWHERE = {"draft_report", "sign_quality_report", "signed_file"}
"""These open their own transactions; `tests/work/test_report_signing.py` tries them by each role."""

YEAR = Period.of_months("2025-04", "2026-03")


def a_sample(scope: Any, actor: Any, on: Any) -> str:
    """A sample of one image that the actor did not review."""
    people = on.practice
    first = people.assistant if actor.staff_id == people.dentist.staff_id else people.dentist
    review_exposure(scope, first, on.exposure)
    today = datetime.now(UTC).date().isoformat()
    return grading_draw.draw_sample(scope, people.dentist, from_day=today, to_day=today, size="1").id


def read_through(scope: Any, actor: Any, on: Any) -> str:
    """The same, read to its end."""
    sample = a_sample(scope, on.practice.dentist, on)
    grading.keep_second_reading(scope, on.practice.dentist, sample, 1, "A")
    return sample


GRADING_USE_CASES: dict[str, Any] = {
    "draw_sample": (
        DENTISTS,
        lambda scope, actor, on: (
            review_exposure(scope, on.practice.assistant, on.exposure),
            grading_draw.draw_sample(scope, actor, from_day="2020-01-01", to_day="2199-01-01", size="1"),
        ),
    ),
    "samples": (CHAIRSIDE, lambda scope, actor, on: grading.samples(scope, actor)),
    "sample_progress": (
        CHAIRSIDE,
        lambda scope, actor, on: grading.sample_progress(scope, actor, a_sample(scope, actor, on)),
    ),
    "next_to_read": (
        CHAIRSIDE,
        lambda scope, actor, on: grading.next_to_read(scope, actor, a_sample(scope, actor, on)),
    ),
    "image_to_read": (
        CHAIRSIDE,
        lambda scope, actor, on: grading.image_to_read(scope, actor, a_sample(scope, actor, on), 1),
    ),
    "keep_second_reading": (
        CHAIRSIDE,
        lambda scope, actor, on: grading.keep_second_reading(scope, actor, a_sample(scope, actor, on), 1, "A"),
    ),
    "agreement_of": (
        CHAIRSIDE,
        lambda scope, actor, on: grading_agreement.agreement_of(scope, actor, read_through(scope, actor, on)),
    ),
    "readings_that_differ": (
        CHAIRSIDE,
        lambda scope, actor, on: grading_agreement.readings_that_differ(
            scope, actor, read_through(scope, actor, on)
        ),
    ),
    "agreements_within": (
        DENTISTS,
        lambda scope, actor, on: grading_agreement.agreements_within(scope, actor, YEAR.first, YEAR.last),
    ),
    "radiation_of": (CHAIRSIDE, lambda scope, actor, on: radiation.radiation_of(scope, actor, YEAR)),
    "choose_collimation": (
        DENTISTS,
        lambda scope, actor, on: radiation.choose_collimation(
            scope, actor, practice="round", rooms={on.room: "rectangular"}
        ),
    ),
    "report_figures": (DENTISTS, lambda scope, actor, on: report_figures.report_figures(scope, actor, YEAR)),
}
