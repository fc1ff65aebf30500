"""Operators side by side, each against what their own mix of views would lead one to expect."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup

from app.web.dependencies import CurrentActor
from app.web.pages.quality_address import Asked, AskedReview, Choice, ReviewScope, filters
from app.web.pages.quality_figure_tables import BREAKDOWN_MEASURES
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import (
    Cell,
    Column,
    DataTable,
    Figure,
    count,
    csv_answer,
    plain,
    rate_cells,
    share_text,
    with_csv,
)
from app.web.quality_drawing.funnel import FunnelLimits, FunnelPoint, funnel_plot
from app.web.rendering import render
from app.work.quality_comparison import OUTCOMES, FunnelCurve, OperatorComparison, OperatorLine, compare_operators
from app.work.quality_period import checked_choice

router = APIRouter(include_in_schema=False)

HERE = "/quality/comparison"

OUTCOME_TITLES = {code: f"{words[0].upper()}{words[1:]}" for code, words in OUTCOMES.items()}

COLUMNS = (
    Column("Taken by"),
    Column("Exposures", True),
    Column("Counted", True),
    Column("Expected", True),
    Column(
        "Counted ÷ expected",
        True,
        (
            "Counted ÷ expected",
            "Counted ÷ expected: 95 % interval, low",
            "Counted ÷ expected: 95 % interval, high",
        ),
    ),
    Column("Adjusted rate", True, ("Adjusted rate (share)",)),
    Column(
        "Rate as counted",
        True,
        ("Rate as counted (share)", "Rate: 95 % interval, low (share)", "Rate: 95 % interval, high (share)"),
    ),
    Column("Reading"),
)


@dataclass(frozen=True, kw_only=True)
class ComparisonView(ReviewView):
    """The funnel and its table; ``standard`` says what everybody together came to."""

    figure: Figure
    standard: str
    training: str


@router.get(HERE)
def show_comparison(
    request: Request, scope: ReviewScope, actor: CurrentActor, asked: AskedReview, outcome: str = "retaken"
) -> Response:
    """Observed against expected; an assistant sees their own line."""
    outcome = checked_choice(outcome, OUTCOMES, "outcome")
    found = compare_operators(scope, actor, asked.period, outcome)
    table = comparison_table(asked, found)
    if asked.csv:
        return csv_answer(asked.csv, [table])
    choice = Choice(name="outcome", label="Counted", options=list(BREAKDOWN_MEASURES.items()), value=outcome)
    chosen = filters(scope, asked, HERE, choice, by_operator=False)
    standard = found.standard
    view = ComparisonView(
        heading="Fair comparison",
        frame=above(scope, actor, asked, HERE, chosen, shared=not asked.own),
        figure=Figure(drawing=drawn(found), table=table),
        standard=f"The practice as a whole: {standard.numerator} of {standard.denominator}"
        f" ({share_text(standard.share)}).",
        training=asked.address("/quality/training"),
    )
    return render(request, "pages/quality_comparison.html", view)


def drawn(found: OperatorComparison) -> Markup:
    """The funnel plot."""
    return funnel_plot(
        "funnel",
        f"{OUTCOME_TITLES[found.outcome]}: counted against expected, {found.period.text}",
        [
            FunnelPoint(name=line.name, size=line.result.expected, value=line.result.ratio, zone=line.place)
            for line in found.lines
            if line.result.ratio is not None
        ],
        limits_of(found.curve),
        centre=1.0,
        value_axis_title="Counted ÷ expected (1: as expected)",
        size_axis_title="Number expected from the views taken",
    )


def limits_of(curve: FunnelCurve) -> list[FunnelLimits]:
    """The curves point by point."""
    return [
        FunnelLimits(size=size, low_998=low998, low_95=low95, high_95=high95, high_998=high998)
        for size, low998, low95, high95, high998 in zip(
            curve.expected, curve.low998, curve.low95, curve.high95, curve.high998, strict=True
        )
    ]


def comparison_table(asked: Asked, found: OperatorComparison) -> DataTable:
    """The numbers behind the funnel."""
    return DataTable(
        key="comparison",
        caption=f"{OUTCOME_TITLES[found.outcome]}: counted against expected, {found.period.text}",
        columns=COLUMNS,
        rows=[_row(asked, found.outcome, line) for line in found.lines],
        empty="No exposures in this period. Choose a longer one above.",
        csv=with_csv(asked.address(HERE, outcome=found.outcome), "comparison"),
    )


def _row(asked: Asked, outcome: str, line: OperatorLine) -> tuple[Cell, ...]:
    result = line.result
    behind = asked.address("/quality/exposures", measure=outcome, by="operator", value=line.operator_id)
    low, high = (result.interval.low, result.interval.high) if result.interval is not None else (None, None)
    span = f"{low:.2f} to {high:.2f}" if low is not None and high is not None else ""
    share, interval = rate_cells(line.crude)
    return (
        plain(line.name),
        count(result.exposures),
        count(result.observed, behind),
        Cell(f"{result.expected:.1f}", (result.expected,)),
        Cell("–" if result.ratio is None else f"{result.ratio:.2f}", (result.ratio, low, high), under=span),
        Cell(share_text(result.standardised), (result.standardised,)),
        Cell(share.text, (*share.values, *interval.values), under=interval.text),
        plain(line.words),
    )
