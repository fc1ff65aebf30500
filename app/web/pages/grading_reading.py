"""The second reading: one image at a time, with its view and the grades to choose from, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi import Path as PathPart
from fastapi.responses import RedirectResponse, Response

from app.core.errors import InputError
from app.core.quality.targets import Grade
from app.exchange.quality_targets import grading_schemes
from app.exchange.shared_data import projections
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.rendering import FieldError, View, errors_of, render
from app.work.actor import Actor
from app.work.grading import BlindImage, image_to_read, keep_second_reading, next_to_read, sample_progress

router = APIRouter(include_in_schema=False)

# Bounded, because a database takes no number of any size.
Position = Annotated[int, PathPart(ge=1, le=1_000_000)]
After = Annotated[int, Query(ge=0, le=1_000_000)]


@dataclass(frozen=True, kw_only=True)
class ReadingView(View):
    """One image to grade.

    Parameters
    ----------
    grades : of the scheme; a key of the keyboard gives each (its code)
    after : address of the next image that waits; empty where none does
    """

    image: BlindImage
    grades: tuple[Grade, ...]
    read: int
    acceptable: tuple[str, ...]
    after: str
    picture: str


@router.get("/quality/grading/{sample_id}/next")
def next_image(sample_id: str, scope: ReadingDep, actor: CurrentActor, after: After = 0) -> Response:
    """On to the next image that waits for this person; back to the sample where none does."""
    return _on(scope, actor, sample_id, after)


def _on(scope: PracticeScope, actor: Actor, sample_id: str, after: int) -> RedirectResponse:
    position = next_to_read(scope, actor, sample_id, after=after)
    if position is None:
        return go_to(f"/quality/grading/{sample_id}", "sample-read")
    return go_to(f"/quality/grading/{sample_id}/images/{position}")


@router.get("/quality/grading/{sample_id}/images/{position}")
def show_image_to_read(
    request: Request, sample_id: str, position: Position, scope: ReadingDep, actor: CurrentActor
) -> Response:
    """The image, large."""
    return render(request, "pages/grading_reading.html", _view(scope, actor, sample_id, position))


def _view(
    scope: PracticeScope, actor: Actor, sample_id: str, position: int, errors: tuple[FieldError, ...] = ()
) -> ReadingView:
    image = image_to_read(scope, actor, sample_id, position)
    known = projections(scope.practice().bone_beyond_apex_mm).get(image.projection)
    following = next_to_read(scope, actor, sample_id, after=position)
    return ReadingView(
        heading=f"Image {position} of {image.size}: {image.view_title}",
        errors=errors,
        image=image,
        grades=grading_schemes()[image.scheme].grades,
        read=sample_progress(scope, actor, sample_id).read,
        acceptable=known.acceptable if known is not None else (),
        after=f"/quality/grading/{sample_id}/images/{following}" if following not in (None, position) else "",
        picture=f"/images/{image.sha256}?side=1600",
    )


@router.post("/quality/grading/{sample_id}/images/{position}")
def grade_image(
    request: Request, sample_id: str, position: Position, store: StoreDep, actor: CurrentActor, form: Posted
) -> Response:
    """Keep the grade, and on to the next."""
    try:
        with store.writing(actor.practice_id) as scope:
            keep_second_reading(scope, actor, sample_id, position, form.text("grade"))
    except InputError as error:
        if error.path != "grade":
            raise
        with store.reading(actor.practice_id) as scope:
            view = _view(scope, actor, sample_id, position, errors_of(error, "grade"))
        return render(request, "pages/grading_reading.html", view, status=422)
    with store.reading(actor.practice_id) as scope:
        return _on(scope, actor, sample_id, position)
