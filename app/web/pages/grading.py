"""Grading samples: the list with the form that draws one, and what came of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.exchange.quality_targets import grading_schemes
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.quality_address import Asked, AskedReview
from app.web.pages.quality_places import places
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import DENTISTS, Actor
from app.work.grading import SampleProgress, sample_progress, samples
from app.work.grading_agreement import (
    METHOD_NOTE,
    Agreement,
    TwoReadings,
    agreement_of,
    readings_that_differ,
)
from app.work.grading_draw import METHODS, USUAL_SCHEME, USUAL_SIZE, draw_sample

router = APIRouter(include_in_schema=False)

HERE = "/quality/grading"
FIELDS = ("from_day", "to_day", "size", "method", "scheme", "seed")


@dataclass(frozen=True, kw_only=True)
class GradingView(View):
    """The samples, and the form of a new one for dentists."""

    places: list[tuple[str, str, bool]]
    samples: list[SampleProgress]
    draws: bool
    values: Mapping[str, str]
    methods: tuple[tuple[str, str, str], ...]
    schemes: tuple[tuple[str, str], ...]
    usual_size: int
    scheme_titles: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class SampleView(View):
    """One sample.

    Parameters
    ----------
    agreement : None where it is not shown yet
    differ : of a finished sample, the images graded differently
    """

    places: list[tuple[str, str, bool]]
    progress: SampleProgress
    scheme_title: str
    method_words: str
    agreement: Agreement | None
    method_note: str
    differ: list[TwoReadings]


METHOD_HINTS = {
    "simple": "Every reviewed image has the same chance.",
    "by_operator": "Stratified: each operator gives their share of the period's images, so that none is left out.",
}


def _list_view(
    scope: PracticeScope,
    actor: Actor,
    asked: Asked,
    values: Mapping[str, str],
    errors: tuple[FieldError, ...] = (),
) -> GradingView:
    titles = {each.id: each.title for each in grading_schemes().values()}
    return GradingView(
        heading="Second readings",
        errors=errors,
        places=places(actor, asked, HERE),
        samples=samples(scope, actor),
        draws=actor.may(DENTISTS),
        values=values,
        methods=tuple((code, words.capitalize(), METHOD_HINTS[code]) for code, words in METHODS.items()),
        schemes=tuple(titles.items()),
        usual_size=USUAL_SIZE,
        scheme_titles=titles,
    )


@router.get("/quality/grading")
def list_samples(request: Request, scope: ReadingDep, actor: CurrentActor, asked: AskedReview) -> Response:
    """Every sample with its progress."""
    today = now().astimezone().date()
    values = {
        "from_day": (today - timedelta(days=182)).isoformat(),
        "to_day": today.isoformat(),
        "size": str(USUAL_SIZE),
        "method": "simple",
        "scheme": USUAL_SCHEME,
        "seed": "",
    }
    return render(request, "pages/grading.html", _list_view(scope, actor, asked, values))


@router.post("/quality/grading")
def draw(request: Request, store: StoreDep, actor: CurrentActor, asked: AskedReview, form: Posted) -> Response:
    """Draw a sample."""
    values = {name: form.text(name) for name in FIELDS}
    try:
        with store.writing(actor.practice_id) as scope:
            sample = draw_sample(
                scope,
                actor,
                from_day=values["from_day"],
                to_day=values["to_day"],
                size=values["size"],
                method=values["method"],
                scheme=values["scheme"],
                seed=values["seed"],
            )
    except InputError as error:
        with store.reading(actor.practice_id) as scope:
            view = _list_view(scope, actor, asked, values, errors_of(error, *FIELDS))
        return render(request, "pages/grading.html", view, status=422)
    return go_to(f"/quality/grading/{sample.id}", "sample-drawn")


@router.get("/quality/grading/{sample_id}")
def show_sample(
    request: Request, sample_id: str, scope: ReadingDep, actor: CurrentActor, asked: AskedReview
) -> Response:
    """One sample: how it was drawn, how far it is read, and how the readers agree."""
    progress = sample_progress(scope, actor, sample_id)
    shown = progress.read > 0 and (progress.finished or actor.may(DENTISTS))
    row = progress.row
    return render(
        request,
        "pages/grading_sample.html",
        SampleView(
            heading=f"Sample of {row.size} images",
            places=places(actor, asked, HERE),
            progress=progress,
            scheme_title=grading_schemes()[row.scheme].title,
            method_words=METHODS[row.method],
            agreement=agreement_of(scope, actor, sample_id) if shown else None,
            method_note=METHOD_NOTE,
            differ=readings_that_differ(scope, actor, sample_id) if shown else [],
        ),
    )
