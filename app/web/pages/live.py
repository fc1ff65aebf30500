"""What pages ask to follow what colleagues do: a stream of versions, or one version at a time."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response
from fastapi.sse import EventSourceResponse

from app.web.dependencies import CurrentActor, ReadingDep, StoreDep, log_in_of
from app.web.live import Live, Stream
from app.work.news import Subject, followed, news_of

router = APIRouter(include_in_schema=False)


@router.get("/live/{kind}/{row_id}")
async def stream_of(
    request: Request, kind: str, row_id: str, store: StoreDep, actor: CurrentActor, image: str = ""
) -> Response:
    """A stream of versions: one at once, and one after each change, until the log-in ends.

    With an ``image`` it also tells how many others have that image before them.
    """

    def subject_asked() -> Subject:
        with store.reading(actor.practice_id) as scope:
            return followed(scope, actor, kind, row_id)

    live: Live = request.app.state.live
    stream = Stream(
        practice_id=actor.practice_id,
        staff_id=actor.staff_id,
        subject=await run_in_threadpool(subject_asked),
        still_in=lambda: log_in_of(request, seen=False) is not None,
        person=actor.name,
        image=image[:64],
    )
    if request.app.state.ending.is_set() or not live.join(stream):
        return JSONResponse(
            {"error": {"status": 503, "path": "", "message": "Too many pages follow something. Ask again later."}},
            status_code=503,
        )
    # "no" keeps a proxy from holding the lines back.
    return EventSourceResponse(live.lines(stream), headers={"X-Accel-Buffering": "no"})


@router.get("/live/{kind}/{row_id}/version")
def version_now(
    request: Request, kind: str, row_id: str, scope: ReadingDep, actor: CurrentActor, image: str = ""
) -> Response:
    """The version now, the name of the colleague who changed it last, and who else has the image before them."""
    news = news_of(scope, actor, kind, row_id)
    live: Live = request.app.state.live
    here = live.people_at(actor.practice_id, row_id, image, but=actor.staff_id)
    return JSONResponse({"version": news.version, "by": news.by, "here": here})
