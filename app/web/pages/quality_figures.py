"""The review broken down: by reason, region, slot, operator, room, receptor, template, age or month."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.quality.rates import Rate
from app.web.dependencies import CurrentActor
from app.web.pages.quality_address import AskedReview, Choice, ReviewScope, filters
from app.web.pages.quality_figure_tables import BREAKDOWN_MEASURES, figures_table
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import Figure, csv_answer
from app.web.quality_drawing.rate_rows import RateRow, rate_rows
from app.web.rendering import render
from app.work.quality_figures import FigureRow, figures, overview
from app.work.quality_period import DEFINITIONS, DIMENSIONS, checked_choice

router = APIRouter(include_in_schema=False)

HERE = "/quality/figures"
MOST_DRAWN = 30
"""Rows of the chart; the table has all."""

AXES = {
    "retaken": "Share of exposures that were retaken (%)",
    "non_diagnostic": "Share of reviewed exposures that were not diagnostic (%)",
}


@dataclass(frozen=True, kw_only=True)
class BreakdownView(ReviewView):
    """One breakdown with its chart."""

    figure: Figure
    definition: str


@router.get(HERE)
def show_breakdown(
    request: Request,
    scope: ReviewScope,
    actor: CurrentActor,
    asked: AskedReview,
    by: str = "reason",
    measure: str = "retaken",
) -> Response:
    """Rates for every value of one dimension."""
    by = checked_choice(by, DIMENSIONS, "by")
    measure = checked_choice(measure, BREAKDOWN_MEASURES, "measure")
    rows = figures(scope, actor, asked.period, by, asked.operator_id)
    name = DIMENSIONS[by]
    caption = f"By {name[0].lower()}{name[1:]}, {asked.period.text}"
    table = figures_table(asked, HERE, by, rows, caption)
    if asked.csv:
        return csv_answer(asked.csv, [table])
    whole = rate_of(overview(scope, actor, asked.period, asked.operator_id).whole, measure)
    drawn = largest(rows, measure) if len(rows) > MOST_DRAWN else rows
    drawing = rate_rows(
        "breakdown",
        f"{BREAKDOWN_MEASURES[measure]}: {caption[0].lower()}{caption[1:]}",
        [as_rate_row(row, measure) for row in drawn],
        axis=AXES[measure],
        # Every reason is a part of the whole: beside it the whole would mark nothing.
        reference=None if by == "reason" else whole.share,
    )
    words = [] if len(rows) <= MOST_DRAWN else [f"The chart shows the {MOST_DRAWN} with the most exposures."]
    choices = (
        Choice(name="by", label="Broken down by", options=list(DIMENSIONS.items()), value=by),
        Choice(name="measure", label="Drawn", options=list(BREAKDOWN_MEASURES.items()), value=measure),
    )
    view = BreakdownView(
        heading=f"Review by {name[0].lower()}{name[1:]}",
        frame=above(scope, actor, asked, HERE, filters(scope, asked, HERE, *choices)),
        figure=Figure(drawing=drawing, table=table, words=words),
        definition=DEFINITIONS.get(measure, ""),
    )
    return render(request, "pages/quality_figures.html", view)


def rate_of(row: FigureRow, measure: str) -> Rate:
    """The rate of a measure."""
    return row.retake if measure == "retaken" else row.non_diagnostic


def as_rate_row(row: FigureRow, measure: str) -> RateRow:
    """The row as the chart draws it."""
    rate = rate_of(row, measure)
    return RateRow(
        name=row.title,
        count=rate.numerator,
        total=rate.denominator,
        low=rate.interval.low if rate.interval is not None else None,
        high=rate.interval.high if rate.interval is not None else None,
        few=rate.small,
    )


def largest(rows: Sequence[FigureRow], measure: str) -> list[FigureRow]:
    """The rows with the most exposures, in the order in which they stood."""
    chosen = sorted(rows, key=lambda row: -rate_of(row, measure).denominator)[:MOST_DRAWN]
    return [row for row in rows if row in chosen]
