"""What stands behind a figure: its exposures one by one, and the series closed with something missing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, TypeVar

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.exchange.shared_data import technique_errors
from app.web.dependencies import CurrentActor
from app.web.formatting import shown_date, shown_moment
from app.web.pages.quality_address import Asked, AskedReview, ReviewScope, filters
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import Cell, Column, DataTable, count, csv_answer, plain, with_csv
from app.web.rendering import render
from app.work.quality_exposures import (
    ExposureLine,
    SeriesLine,
    exposures_behind,
    how_many_behind,
    series_closed_incomplete,
)
from app.work.quality_figures import figures
from app.work.quality_period import DIMENSIONS, MEASURES, checked_choice

router = APIRouter(include_in_schema=False)

HERE = "/quality/exposures"
INCOMPLETE = "/quality/incomplete"
ON_A_PAGE = 50
AT_ONCE = 500
"""Lines asked for at a time where a file takes them all."""

Line = TypeVar("Line")

COLUMNS = (
    Column("Taken"),
    Column("Patient", files=("Patient", "Chart number")),
    Column("View", files=("View", "Template")),
    Column("Taken by"),
    Column("Seen on review"),
    Column("What came of it"),
)


@dataclass(frozen=True, kw_only=True)
class BehindView(ReviewView):
    """A page of the list.

    Parameters
    ----------
    counted : how many there are in all, in a sentence
    earlier, later : addresses of the neighbouring pages; empty at the ends
    """

    counted: str
    table: DataTable
    earlier: str
    later: str
    back: str


def whole(part: Callable[[int, int], Sequence[Line]]) -> list[Line]:
    """Every line of a list that is given out in parts."""
    found: list[Line] = []
    while more := part(AT_ONCE, len(found)):
        found.extend(more)
    return found


@router.get(HERE)
def show_exposures(
    request: Request,
    scope: ReviewScope,
    actor: CurrentActor,
    asked: AskedReview,
    measure: str = "exposures",
    by: str = "",
    value: Annotated[str, Query(max_length=200)] = "",
    page: Annotated[int, Query(ge=1, le=1_000_000)] = 1,
) -> Response:
    """The exposures that a figure counts."""
    measure = checked_choice(measure, MEASURES, "measure")
    by = checked_choice(by, {"": "", **DIMENSIONS}, "by")
    here = asked.address(HERE, measure=measure, by=by, value=value)
    total = how_many_behind(
        scope, actor, asked.period, measure=measure, by=by, value=value, operator_id=asked.operator_id
    )

    def part(limit: int, offset: int) -> tuple[ExposureLine, ...]:
        return exposures_behind(
            scope,
            actor,
            asked.period,
            measure=measure,
            by=by,
            value=value,
            operator_id=asked.operator_id,
            limit=limit,
            offset=offset,
        )

    found = whole(part) if asked.csv else part(ON_A_PAGE, (page - 1) * ON_A_PAGE)
    table = DataTable(
        key="exposures",
        caption=f"{MEASURES[measure]}, {asked.period.text}",
        columns=COLUMNS,
        rows=[exposure_row(each) for each in found],
        empty="No exposure is counted here.",
        csv=with_csv(here, "exposures"),
    )
    if asked.csv:
        return csv_answer(asked.csv, [table])
    noun = "exposure" if total == 1 else "exposures"
    which = _which(scope, actor, asked, by, value)
    view = BehindView(
        heading="Exposures behind the figure",
        frame=above(
            scope,
            actor,
            asked,
            HERE,
            filters(scope, asked, HERE, kept={"measure": measure, "by": by, "value": value}),
        ),
        counted=f"{total} {noun}. Counted: {MEASURES[measure].lower()}{which}.",
        table=table,
        earlier=f"{here}&page={page - 1}" if page > 1 else "",
        later=f"{here}&page={page + 1}" if page * ON_A_PAGE < total else "",
        back=asked.address("/quality/figures", by=by) if by else asked.address("/quality"),
    )
    return render(request, "pages/quality_exposures.html", view)


def _which(scope: ReviewScope, actor: CurrentActor, asked: Asked, by: str, value: str) -> str:
    """The value of the dimension in words."""
    if not by:
        return ""
    titles = {row.value: row.title for row in figures(scope, actor, asked.period, by, asked.operator_id)}
    return f"; {DIMENSIONS[by].lower()}: {titles.get(value, value or 'none')}"


def exposure_row(line: ExposureLine) -> tuple[Cell, ...]:
    """An exposure as a row; the day leads to its review, the patient to the series."""
    names = {code.value: error.name.lower() for code, error in technique_errors().items()}
    # Where a list holds several templates, the view's title names its template: it stands beneath already.
    view = line.slot_title.removesuffix(f" ({line.template})")
    faults = ", ".join(names.get(code, code) for code in line.codes)
    return (
        Cell(shown_moment(line.taken_at), (line.taken_at,), f"/exposures/{line.exposure_id}/review"),
        Cell(line.patient, (line.patient, line.chart_number), f"/series/{line.series_id}", line.chart_number),
        Cell(view, (view, line.template), under=line.template),
        plain(line.operator),
        plain(faults or "nothing amiss"),
        plain(came_of(line)),
    )


def came_of(line: ExposureLine) -> str:
    """What became of an exposure, in words."""
    told = []
    if line.repeats:
        told.append("repeats an earlier image")
    if line.retaken:
        told.append("was retaken")
    if line.avoidable:
        told.append("other images already showed what it had lost")
    elif line.non_diagnostic and not line.retaken:
        told.append("was not retaken")
    return "; ".join(told) or "stands as it is"


@router.get(INCOMPLETE)
def show_incomplete(
    request: Request,
    scope: ReviewScope,
    actor: CurrentActor,
    asked: AskedReview,
    page: Annotated[int, Query(ge=1, le=1_000_000)] = 1,
) -> Response:
    """The series that were closed although something was missing."""
    here = asked.address(INCOMPLETE)

    def part(limit: int, offset: int) -> tuple[SeriesLine, ...]:
        return series_closed_incomplete(scope, actor, asked.period, asked.operator_id, limit=limit, offset=offset)

    # One more than is shown tells whether there is a further page.
    found = whole(part) if asked.csv else part(ON_A_PAGE + 1, (page - 1) * ON_A_PAGE)
    table = DataTable(
        key="incomplete-series",
        caption=f"Series closed with something missing, {asked.period.text}",
        columns=(
            Column("Patient", files=("Patient", "Chart number")),
            Column("Template"),
            Column("Closed on"),
            Column("Planned retakes not taken", True),
        ),
        rows=[series_row(each) for each in (found if asked.csv else found[:ON_A_PAGE])],
        empty="No series was closed with something missing.",
        csv=with_csv(here, "incomplete-series"),
    )
    if asked.csv:
        return csv_answer(asked.csv, [table])
    view = BehindView(
        heading="Series closed with something missing",
        frame=above(scope, actor, asked, INCOMPLETE, filters(scope, asked, INCOMPLETE)),
        counted="A series may well be closed so: one more exposure was weighed against what it would show.",
        table=table,
        earlier=f"{here}&page={page - 1}" if page > 1 else "",
        later=f"{here}&page={page + 1}" if len(found) > ON_A_PAGE else "",
        back=asked.address("/quality"),
    )
    return render(request, "pages/quality_exposures.html", view)


def series_row(line: SeriesLine) -> tuple[Cell, ...]:
    """A series as a row that leads to its page."""
    return (
        Cell(line.patient, (line.patient, line.chart_number), f"/series/{line.series_id}", line.chart_number),
        plain(line.template),
        Cell(shown_date(line.closed_on), (line.closed_on,)),
        count(line.retakes_missed),
    )
