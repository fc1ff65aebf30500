"""Booking: who, what for, how long; the free times of a day; and the booking itself."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.bookings_choosing import Choice, ChoosingView, choosing, wanted_of, who_view
from app.web.rendering import FieldError, errors_of, render
from app.work.bookings import NeedsConfirmation, book

router = APIRouter(include_in_schema=False)

FIELDS = ("day", "time", "minutes", "room", "purpose")


@router.get("/bookings/new")
def show_choosing(
    request: Request,
    scope: ReadingDep,
    patient: str = "",
    recall: str = "",
    purpose: str = "",
    room: str = "",
    minutes: str = "",
    day: str = "",
    q: str = "",
) -> Response:
    """Without a patient the search for one; else the free times of a day."""
    chosen = Choice(
        patient_id=patient,
        recall=recall,
        purpose=purpose,
        room=room,
        minutes=minutes,
        day=day,
        slot="",
        version="",
    )
    if not patient:
        return render(request, "pages/booking_who.html", who_view(scope, q.strip()[:200], chosen))
    return render(request, "pages/booking_choose.html", _new(scope, chosen))


def _new(
    scope: PracticeScope, chosen: Choice, errors: tuple[FieldError, ...] = (), cautions: list[str] | None = None
) -> ChoosingView:
    return choosing(scope, chosen, at=now(), errors=errors, cautions=cautions or [])


def choice_sent(form: PostedForm) -> Choice:
    """What the form says, as it was typed."""
    return Choice(
        patient_id=form.text("patient"),
        recall=form.text("recall"),
        purpose=form.text("purpose"),
        room=form.text("room"),
        minutes=form.text("minutes"),
        day=form.text("day"),
        slot=form.text("slot"),
        version=form.text("version"),
        own_time=form.text("own_time"),
    )


@router.post("/bookings/new")
def make_booking(request: Request, actor: CurrentActor, store: StoreDep, form: Posted) -> Response:
    """Book; where the time is taken or something speaks against it, the page again with what is free."""
    chosen = choice_sent(form)
    errors: tuple[FieldError, ...] = ()
    cautions: list[str] = []
    try:
        with store.writing(actor.practice_id) as scope:
            made = book(
                scope,
                actor,
                chosen.patient_id,
                wanted=wanted_of(chosen),
                purpose=chosen.purpose,
                recall_item_id=chosen.recall[:64],
                confirmed=form.flag("confirmed"),
                at=now(),
            )
            booked = made.id
    except InputError as error:
        errors = errors_of(error, *FIELDS)
    except NeedsConfirmation as needed:
        cautions = needed.cautions
    else:
        return go_to(f"/bookings/{booked}", "booked")
    with store.reading(actor.practice_id) as scope:
        view = _new(scope, chosen, errors, cautions)
    return render(request, "pages/booking_choose.html", view, status=422 if errors else 409)
