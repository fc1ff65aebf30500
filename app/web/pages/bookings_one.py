"""One appointment: looked at, moved, cancelled, marked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.storage.bookings import Appointment
from app.storage.columns import now
from app.storage.practice_scope import PracticeScope
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, PostedForm, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.bookings import FIELDS, choice_sent
from app.web.pages.bookings_choosing import Choice, choosing, wanted_of
from app.web.pages.bookings_words import STATUS_LOOKS, address, long_day
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.desk import seen_appointment
from app.work.actor import Actor
from app.work.booking_lists import ListedAppointment, appointment_listed
from app.work.bookings import NeedsConfirmation, cancel, mark, move

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class AppointmentView(View):
    """One appointment and what can still be done with it."""

    appointment: ListedAppointment
    day: str
    look: str
    begun: bool
    calendar: str
    reason: str


def _view(
    each: ListedAppointment, opened: str, errors: tuple[FieldError, ...] = (), reason: str = ""
) -> AppointmentView:
    return AppointmentView(
        heading=f"Appointment of {each.patient_name}",
        errors=errors,
        opened=opened,
        appointment=each,
        day=long_day(each.day),
        look=STATUS_LOOKS[each.status],
        begun=each.starts <= now(),
        calendar=address("/calendar", view="day", day=each.day.isoformat()),
        reason=reason,
    )


@router.get("/bookings/{appointment_id}")
def show_appointment(request: Request, appointment_id: str, scope: ReadingDep) -> Response:
    """When, where, who, and what can be done."""
    each = appointment_listed(scope, appointment_id)
    return render(request, "pages/booking_one.html", _view(each, _opened(scope, each)))


def _again(
    request: Request, store: StoreDep, actor: Actor, appointment_id: str, error: InputError, reason: str = ""
) -> Response:
    with store.reading(actor.practice_id) as scope:
        each = appointment_listed(scope, appointment_id)
        view = _view(each, _opened(scope, each), errors_of(error, "reason"), reason)
    return render(request, "pages/booking_one.html", view, status=422)


def _current(scope: PracticeScope, form: PostedForm, appointment_id: str, back: str) -> int:
    """The version on which the deed rests, once nobody has changed what the page showed since it was opened.

    Raises
    ------
    Overtaken
        Somebody has: the person chooses.
    """
    if not form.text(OPENED):
        return _version(form)
    row = scope.held(Appointment, appointment_id, "appointment")
    check_overtaken(scope, form, seen_appointment(row, appointment_listed(scope, appointment_id)), back=back)
    return row.version


def _opened(scope: PracticeScope, listed: ListedAppointment) -> str:
    return opened_field(seen_appointment(scope.get(Appointment, listed.id, "appointment"), listed))


def _version(form: PostedForm) -> int:
    text = form.text("version")
    # What no form of ours sends is no version of any appointment.
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else -1


@router.post("/bookings/{appointment_id}/mark")
def mark_appointment(
    request: Request, appointment_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Kept or missed; leads back to where the mark was made."""
    try:
        with store.writing(actor.practice_id) as scope:
            version = _current(scope, form, appointment_id, f"/bookings/{appointment_id}")
            mark(scope, actor, appointment_id, status=form.text("status"), version=version, at=now())
    except InputError as error:
        return _again(request, store, actor, appointment_id, error)
    then = form.text("then")
    return go_to(then if then.startswith("/calendar") else f"/bookings/{appointment_id}", "appointment-marked")


@router.post("/bookings/{appointment_id}/cancel")
def cancel_appointment(
    request: Request, appointment_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Called off, with the reason."""
    reason = form.text("reason")
    try:
        with store.writing(actor.practice_id) as scope:
            version = _current(scope, form, appointment_id, f"/bookings/{appointment_id}")
            cancel(scope, actor, appointment_id, reason=reason, version=version, at=now())
    except InputError as error:
        return _again(request, store, actor, appointment_id, error, reason)
    return go_to(f"/bookings/{appointment_id}", "appointment-cancelled")


@router.get("/bookings/{appointment_id}/move")
def show_moving(
    request: Request, appointment_id: str, scope: ReadingDep, room: str = "", minutes: str = "", day: str = ""
) -> Response:
    """The free times for moving it."""
    each = appointment_listed(scope, appointment_id)
    choice = Choice(
        patient_id=each.patient_id,
        recall="",
        purpose=each.purpose,
        room=room,
        minutes=minutes or str(each.minutes),
        day=day or each.day.isoformat(),
        slot="",
        version=str(each.version),
    )
    view = replace(choosing(scope, choice, at=now(), moving=each), opened=_opened(scope, each))
    return render(request, "pages/booking_choose.html", view)


@router.post("/bookings/{appointment_id}/move")
def move_appointment(
    request: Request, appointment_id: str, actor: CurrentActor, store: StoreDep, form: Posted
) -> Response:
    """Another time; where it is taken or something speaks against it, the page again."""
    errors: tuple[FieldError, ...] = ()
    cautions: list[str] = []
    choice = choice_sent(form)
    try:
        with store.writing(actor.practice_id) as scope:
            move(
                scope,
                actor,
                appointment_id,
                wanted=wanted_of(choice),
                version=_current(scope, form, appointment_id, f"/bookings/{appointment_id}/move"),
                confirmed=form.flag("confirmed"),
                at=now(),
            )
    except InputError as error:
        errors = errors_of(error, *FIELDS)
    except NeedsConfirmation as needed:
        cautions = needed.cautions
    else:
        return go_to(f"/bookings/{appointment_id}", "appointment-moved")
    with store.reading(actor.practice_id) as scope:
        each = appointment_listed(scope, appointment_id)
        choice = replace(choice, patient_id=each.patient_id, purpose=each.purpose)
        view = choosing(scope, choice, at=now(), errors=errors, cautions=cautions, moving=each)
        view = replace(view, opened=form.text(OPENED))
    return render(request, "pages/booking_choose.html", view, status=422 if errors else 409)
