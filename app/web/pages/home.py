"""Home: what this person goes on with."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.web.dependencies import Login, ReadingDep
from app.web.pages.administrator_home import administrator_home
from app.web.pages.patients import PatientLine, line_of
from app.web.rendering import View, render
from app.work.actor import Role
from app.work.series_lists import ListedSeries, closed_with_gaps, newest_patients, open_series_list

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class HomeView(View):
    """What is under way.

    Parameters
    ----------
    newest : the patients registered last; the front desk only
    open_series : every open series; empty for the front desk, which sees none
    to_decide : of these, the ones in which a dentist has something to decide: gaps after review, nothing waiting
    with_gaps : the last series closed although something was missing; dentists only
    """

    role: str
    newest: list[PatientLine]
    open_series: list[ListedSeries]
    to_decide: list[ListedSeries]
    with_gaps: list[ListedSeries]


@router.get("/")
def show_home(request: Request, login: Login, scope: ReadingDep) -> Response:
    """The home page of the person's role."""
    role = login.actor.role
    if role is Role.ADMINISTRATOR:
        view_of_duties = administrator_home(scope, login.actor)
        return render(request, "pages/home_administrator.html", view_of_duties)
    if role is Role.FRONT_DESK:
        view = HomeView(
            heading="Patients at the desk",
            role=role,
            newest=[line_of(each) for each in newest_patients(scope, limit=10)],
            open_series=[],
            to_decide=[],
            with_gaps=[],
        )
        return render(request, "pages/home.html", view)
    under_way = open_series_list(scope)
    decides = role is Role.DENTIST
    return render(
        request,
        "pages/home.html",
        HomeView(
            heading="Series under way",
            role=role,
            newest=[],
            open_series=under_way,
            to_decide=[each for each in under_way if needs_dentist(each)] if decides else [],
            with_gaps=closed_with_gaps(scope) if decides else [],
        ),
    )


def needs_dentist(each: ListedSeries) -> bool:
    """Whether every image has been looked at, something is missing, and no retake is on its way."""
    return each.exposures > 0 and each.verdict == "incomplete" and not each.waiting and not each.retakes_ordered
