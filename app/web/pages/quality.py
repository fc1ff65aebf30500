"""The review's first page: the four figures of the period, month by month, and what the retake plan saved."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup

from app.core.quality.rates import SMALL_DENOMINATOR, Rate
from app.web.dependencies import CurrentActor
from app.web.formatting import shown_date
from app.web.pages.quality_address import Asked, AskedReview, ReviewScope, filters
from app.web.pages.quality_figure_tables import FIGURE_TITLES, figures_table
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import DataTable, csv_answer, interval_text, share_text
from app.web.quality_drawing.sparkline import sparkline
from app.web.rendering import render
from app.work.quality_figures import FigureRow, Overview, figures, overview
from app.work.quality_period import DEFINITIONS

router = APIRouter(include_in_schema=False)

HERE = "/quality"


@dataclass(frozen=True, kw_only=True)
class FigureCard:
    """One headline figure.

    Parameters
    ----------
    share, count, interval : in words
    few : said where the number is small; empty elsewhere
    href, link : leads to what was counted; empty where there is nothing
    course : the figure month by month as a small chart; None where it is not kept by month
    """

    key: str
    title: str
    share: str
    count: str
    interval: str
    few: str
    href: str
    link: str
    course: Markup | None


@dataclass(frozen=True, kw_only=True)
class OverviewView(ReviewView):
    """The headline figures, what the plan saved, and the months."""

    period: str
    exposures: int
    cards: list[FigureCard]
    kept: list[str]
    months: DataTable
    definitions: list[tuple[str, str]]


@router.get(HERE)
def show_overview(request: Request, scope: ReviewScope, actor: CurrentActor, asked: AskedReview) -> Response:
    """The figures of the period."""
    months = figures(scope, actor, asked.period, "month", asked.operator_id)
    table = figures_table(asked, HERE, "month", months, "By month, with the number of exposures in each")
    if asked.csv:
        return csv_answer(asked.csv, [table])
    found = overview(scope, actor, asked.period, asked.operator_id)
    view = OverviewView(
        heading="Quality",
        frame=above(scope, actor, asked, HERE, filters(scope, asked, HERE)),
        period=_span(found, asked),
        exposures=found.whole.exposures,
        cards=_cards(found, asked, months),
        kept=_kept(found),
        months=table,
        definitions=[(FIGURE_TITLES[code], DEFINITIONS[code]) for code in FIGURE_TITLES if code in DEFINITIONS],
    )
    return render(request, "pages/quality.html", view)


def _span(found: Overview, asked: Asked) -> str:
    """The period, and between which days exposures lie in it."""
    if found.first_day is None or found.last_day is None:
        return asked.period.text
    return f"{asked.period.text}; exposures from {shown_date(found.first_day)} to {shown_date(found.last_day)}"


def _cards(found: Overview, asked: Asked, months: tuple[FigureRow, ...]) -> list[FigureCard]:
    whole = found.whole

    def behind(measure: str) -> str:
        return asked.address("/quality/exposures", measure=measure)

    retaken = [row.retake.share for row in months]
    non_diagnostic = [row.non_diagnostic.share for row in months]
    return [
        _card("retaken", whole.retake, "exposures were retaken", behind("retaken"), _course("retaken", retaken)),
        _card(
            "non_diagnostic",
            whole.non_diagnostic,
            "reviewed exposures lost something",
            behind("non_diagnostic"),
            _course("non_diagnostic", non_diagnostic),
        ),
        _card(
            "avoidable",
            whole.avoidable,
            "retaken images were already made up for by others",
            behind("avoidable"),
            None,
        ),
        _card(
            "missed",
            found.missed,
            "closed series left something out",
            asked.address("/quality/incomplete"),
            None,
            noun="series",
        ),
    ]


def _course(key: str, shares: list[float | None]) -> Markup:
    return sparkline(f"course-{key}", f"{FIGURE_TITLES[key]}, month by month", shares)


def _card(
    key: str, rate: Rate, words: str, href: str, course: Markup | None, noun: str = "exposure"
) -> FigureCard:
    number = rate.numerator
    plural = noun if noun == "series" or number == 1 else f"{noun}s"
    few = ""
    if rate.small and rate.denominator:
        few = f"Fewer than {SMALL_DENOMINATOR}: read the interval, not the figure alone."
    return FigureCard(
        key=key,
        title=FIGURE_TITLES[key],
        share=share_text(rate.share),
        count=f"{number} of {rate.denominator} {words}" if rate.denominator else "Nothing to count yet",
        interval=f"95 % interval {interval_text(rate)}" if rate.interval is not None else "",
        few=few,
        href=href if number else "",
        link=f"See the {number} {plural}" if number != 1 else f"See the {plural}",
        course=course,
    )


def _kept(found: Overview) -> list[str]:
    """What the smallest retake plans spared the patients, in sentences."""
    if not found.every_fault_count:
        return ["No view in this period asked for a repeat."]
    told = [
        f"Repeating every faulty or missing view would have taken {found.every_fault_count} further exposures; "
        f"the smallest plans asked for {found.plan_count}."
    ]
    if found.saved > 0:
        told.append(f"That kept {found.saved} exposures from the patients.")
    if found.retakes_missed:
        series = "a series was" if found.missed.numerator == 1 else "series were"
        told.append(
            f"When {series} closed with something missing, {found.retakes_missed} of those planned exposures "
            "had not been taken."
        )
    return told
