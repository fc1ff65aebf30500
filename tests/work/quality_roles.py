"""Who may do what in the quality review: the rows of `test_roles` for it."""

from __future__ import annotations

from typing import Any

from app.work import (
    quality_comparison,
    quality_exposures,
    quality_figures,
    quality_grades,
    quality_receptors,
    quality_record,
    quality_training,
    quality_trends,
)
from app.work.actor import CHAIRSIDE, DENTISTS
from app.work.practice import add_receptor
from app.work.quality_period import Period

QUALITY_ROOMS = (quality_comparison, quality_exposures, quality_figures, quality_grades, quality_receptors)
QUALITY_ROOMS += (quality_record, quality_training, quality_trends)
YEAR = Period.of_months("2025-04", "2026-03")


def a_receptor(scope: Any, on: Any) -> str:
    return add_receptor(scope, on.practice.dentist, name="Plate 1", kind="film", size="2").id


def a_note(scope: Any, actor: Any) -> str:
    return quality_record.annotate(scope, actor, day="2026-02-03", text="New sensor").id


def a_report(scope: Any, on: Any) -> str:
    return quality_record.sign_report(scope, on.practice.dentist, period=YEAR, figures={}, pdf=b"x").id


QUALITY_USE_CASES: dict[str, Any] = {
    "whose": (CHAIRSIDE, lambda scope, actor, on: quality_figures.whose(actor, "")),
    "overview": (CHAIRSIDE, lambda scope, actor, on: quality_figures.overview(scope, actor, YEAR)),
    "figures": (CHAIRSIDE, lambda scope, actor, on: quality_figures.figures(scope, actor, YEAR, "slot")),
    "exposures_behind": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_exposures.exposures_behind(scope, actor, YEAR, measure="exposures"),
    ),
    "how_many_behind": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_exposures.how_many_behind(scope, actor, YEAR, measure="exposures"),
    ),
    "series_closed_incomplete": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_exposures.series_closed_incomplete(scope, actor, YEAR),
    ),
    "compare_operators": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_comparison.compare_operators(scope, actor, YEAR),
    ),
    "trend": (CHAIRSIDE, lambda scope, actor, on: quality_trends.trend(scope, actor, YEAR)),
    "receptor_trend": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_trends.receptor_trend(
            scope, actor, a_receptor(scope, on), measure="noise", period=YEAR
        ),
    ),
    "measured_receptors": (CHAIRSIDE, lambda scope, actor, on: quality_trends.measured_receptors(scope, actor)),
    "measure_waiting": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_receptors.measure_waiting(on.practice.store, actor, limit=0),
    ),
    "lessons": (CHAIRSIDE, lambda scope, actor, on: quality_training.lessons(scope, actor, YEAR)),
    "annotate": (CHAIRSIDE, lambda scope, actor, on: a_note(scope, actor)),
    "annotations_in": (CHAIRSIDE, lambda scope, actor, on: quality_record.annotations_in(scope, actor)),
    "withdraw_annotation, one's own": (
        CHAIRSIDE,
        lambda scope, actor, on: quality_record.withdraw_annotation(scope, actor, a_note(scope, actor)),
    ),
    "withdraw_annotation, a colleague's": (
        DENTISTS,
        lambda scope, actor, on: quality_record.withdraw_annotation(
            scope,
            actor,
            a_note(scope, on.practice.assistant if actor != on.practice.assistant else on.practice.dentist),
        ),
    ),
    "choose_scheme": (
        DENTISTS,
        lambda scope, actor, on: quality_record.choose_scheme(
            scope, actor, scheme_id="two-grades-2020", from_day="2026-01-01"
        ),
    ),
    "scheme_history": (CHAIRSIDE, lambda scope, actor, on: quality_record.scheme_history(scope, actor)),
    "grade_report": (DENTISTS, lambda scope, actor, on: quality_grades.grade_report(scope, actor, YEAR)),
    "grade_history": (DENTISTS, lambda scope, actor, on: quality_grades.grade_history(scope, actor, YEAR)),
    "sign_report": (
        DENTISTS,
        lambda scope, actor, on: quality_record.sign_report(scope, actor, period=YEAR, figures={}, pdf=b"x"),
    ),
    "signed_reports": (DENTISTS, lambda scope, actor, on: quality_record.signed_reports(scope, actor)),
    "signed_report": (
        DENTISTS,
        lambda scope, actor, on: quality_record.signed_report(scope, actor, a_report(scope, on)),
    ),
}
