"""Calendar feeds: one's own addresses, and what is sent to a calendar program."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import FullcountError
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.files_out import attachment
from app.web.notes import go_to
from app.web.pages.bookings_words import local_moment, places
from app.web.rendering import FieldError, View, render
from app.work.actor import Actor
from app.work.booking_hours import practice_zone
from app.work.feeds import make_feed, own_feeds, read_feed, revoke_feed
from app.work.text import checked_line

router = APIRouter(include_in_schema=False)

LONGEST_SECRET = 200


@dataclass(frozen=True, kw_only=True)
class FeedLine:
    """An address in force: its secret is not known any more."""

    id: str
    made: str
    shows_names: bool


@dataclass(frozen=True, kw_only=True)
class FeedView(View):
    """One's own addresses; ``fresh`` is a new one, shown this once."""

    places: list[tuple[str, str, bool]]
    feeds: list[FeedLine]
    fresh: str


def _view(scope: PracticeScope, actor: Actor, fresh: str = "", errors: tuple[FieldError, ...] = ()) -> FeedView:
    zone = practice_zone(scope)
    return FeedView(
        heading="Calendar feed",
        errors=errors,
        places=places("/calendar/feed", actor),
        feeds=[
            FeedLine(id=each.id, made=local_moment(each.made_at, zone), shows_names=each.shows_names)
            for each in own_feeds(scope, actor)
        ],
        fresh=fresh,
    )


@router.get("/calendar/feed")
def show_feeds(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """One's own addresses, and the form for a further one."""
    return render(request, "pages/booking_feed.html", _view(scope, actor))


@router.post("/calendar/feed")
def new_feed(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """A new address, shown this once: afterwards only its hash is known."""
    fresh = ""
    errors: tuple[FieldError, ...] = ()
    try:
        with store.writing(actor.practice_id) as scope:
            fresh = make_feed(scope, actor, shows_names=form.flag("shows_names"), at=now())
    except FullcountError as error:
        errors = (FieldError(field="", message=str(error)),)
    with store.reading(actor.practice_id) as scope:
        base = str(request.base_url)
        view = _view(scope, actor, checked_line(f"{base}feeds/{fresh}.ics", "fresh") if fresh else "", errors)
    return render(request, "pages/booking_feed.html", view, status=422 if errors else 200)


@router.post("/calendar/feed/{feed_id}/revoke")
def end_feed(feed_id: str, actor: CurrentActor, store: StoreDep) -> Response:
    """The address answers nobody any more."""
    with store.writing(actor.practice_id) as scope:
        revoke_feed(scope, actor, feed_id, at=now())
    return go_to("/calendar/feed", "feed-revoked")


@router.get("/feeds/{secret}.ics")
def send_feed(request: Request, secret: str, store: StoreDep) -> Response:
    """The appointments as iCalendar; the same plain 404 for one unknown, revoked or of somebody who left."""
    feed = read_feed(store, secret, at=now()) if len(secret) <= LONGEST_SECRET else None
    if feed is None:
        return Response("There is no calendar at this address.\n", status_code=404, media_type="text/plain")
    headers = {"ETag": feed.tag, "Cache-Control": "private, no-cache", "Referrer-Policy": "no-referrer"}
    if feed.tag in [
        each.strip().removeprefix("W/") for each in request.headers.get("if-none-match", "").split(",")
    ]:
        return Response(status_code=304, headers=headers)
    return attachment("appointments.ics", feed.body, headers=headers)
