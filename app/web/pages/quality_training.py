"""What would help most: for each person and region the fault met most often, and how it is corrected."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.dependencies import CurrentActor
from app.web.pages.quality_address import Asked, AskedReview, ReviewScope, filters
from app.web.pages.quality_places import ReviewView, above
from app.web.pages.quality_tables import (
    RATE_COLUMNS,
    Cell,
    Column,
    DataTable,
    count,
    csv_answer,
    joined,
    plain,
    rate_cells,
    with_csv,
)
from app.web.rendering import render
from app.work.quality_training import Lesson, lessons

router = APIRouter(include_in_schema=False)

HERE = "/quality/training"

COLUMNS = (
    Column("Region"),
    Column("Met most often"),
    Column("Times", True),
    Column("Images", True),
    *RATE_COLUMNS,
    Column("How to correct it"),
)


@dataclass(frozen=True, kw_only=True)
class PersonLessons:
    """One person's regions."""

    name: str
    table: DataTable


@dataclass(frozen=True, kw_only=True)
class TrainingView(ReviewView):
    """Everybody asked for, and all in one table to take away."""

    people: list[PersonLessons]
    csv: str


@router.get(HERE)
def show_training(request: Request, scope: ReviewScope, actor: CurrentActor, asked: AskedReview) -> Response:
    """The lessons of the period."""
    found = [each for each in lessons(scope, actor, asked.period) if asked.operator_id in ("", each.operator_id)]
    csv = with_csv(asked.address(HERE), "training")
    if asked.csv:
        return csv_answer(asked.csv, [whole_table(found)])
    view = TrainingView(
        heading="Training",
        frame=above(scope, actor, asked, HERE, filters(scope, asked, HERE)),
        people=by_person(asked, found),
        csv=csv if found else "",
    )
    return render(request, "pages/quality_training.html", view)


def by_person(asked: Asked, found: list[Lesson]) -> list[PersonLessons]:
    """The lessons of each person in a table of their own."""
    people = {each.operator_id: each.operator for each in found}
    return [
        PersonLessons(
            name=name,
            table=DataTable(
                key=f"training-{number}",
                caption=f"{name}, {asked.period.text}",
                columns=COLUMNS,
                rows=[_row(asked, each) for each in found if each.operator_id == operator_id],
                empty="",
            ),
        )
        for number, (operator_id, name) in enumerate(people.items(), start=1)
    ]


def whole_table(found: list[Lesson]) -> DataTable:
    """Everybody's lessons in one table, for the file."""
    return DataTable(
        key="training",
        caption="Training",
        columns=(Column("Taken by"), *COLUMNS),
        rows=[(plain(each.operator), *_cells(each, "")) for each in found],
        empty="",
    )


def _row(asked: Asked, lesson: Lesson) -> tuple[Cell, ...]:
    of_person = Asked(
        period=asked.period, operator_id="" if asked.own else lesson.operator_id, own=asked.own, csv=""
    )
    behind = of_person.address("/quality/exposures", measure="reviewed", by="region", value=lesson.region)
    return _cells(lesson, behind)


def _cells(lesson: Lesson, behind: str) -> tuple[Cell, ...]:
    return joined(
        (
            plain(lesson.region_title),
            plain(lesson.fault),
            count(lesson.rate.numerator),
            count(lesson.rate.denominator, behind),
        ),
        rate_cells(lesson.rate),
        (plain(lesson.correction),),
    )
